import { asVariables, day, escapeText, night } from '../report/look.ts';
import type { LiveDesk } from './desk.ts';
import { liveScript } from './script.ts';

const style = `
:root{color-scheme:light dark;${asVariables(day)}--body:#3d4a43;--body-edge:#2c362f;--table:#cfc7b6}
@media (prefers-color-scheme:dark){:root{${asVariables(night)}--body:#4a5950;--body-edge:#313b35;--table:#2a282c}}
*{box-sizing:border-box}
body{margin:0;background:var(--ground);color:var(--ink);font:15px/1.45 system-ui,sans-serif;min-height:100vh;display:grid;grid-template-rows:auto 1fr}
header{padding:10px 20px;display:flex;flex-wrap:wrap;gap:4px 20px;align-items:baseline}
h1{font-size:1.2rem;margin:0}h2{font-size:.95rem;margin:0 0 6px}
header span{color:var(--faint)}
main{display:grid;grid-template-columns:minmax(430px,500px) 1fr;gap:16px;padding:0 20px 16px}
button{font:inherit;color:var(--ink);background:var(--raised);border:1px solid var(--faint);border-radius:6px;padding:5px 11px;cursor:pointer}
button:hover{border-color:var(--ink)}
button[aria-pressed=true]{border-color:var(--fault);color:var(--fault);box-shadow:inset 0 0 0 1px var(--fault)}
:focus-visible{outline:3px solid var(--level);outline-offset:2px}
kbd{font:12px ui-monospace,monospace;color:var(--faint)}
#camera{display:flex;flex-direction:column;align-items:center;background:var(--table);border-radius:12px;padding:0 12px 18px;overflow:hidden;align-self:start;position:sticky;top:12px}
@media (max-width:1000px){main{grid-template-columns:1fr}#camera{position:static}}
#out{width:404px;max-width:100%;height:46vh;min-height:240px;overflow:hidden;position:relative;mask-image:linear-gradient(transparent,#000 40px)}
#paper{position:absolute;left:0;right:0;margin:auto;bottom:0;width:min(384px,calc(100% - 20px));height:auto;cursor:grab}
#body{position:relative;width:430px;max-width:100%;height:262px;background:linear-gradient(var(--body),var(--body-edge));border-radius:14px 14px 26px 26px;box-shadow:0 10px 24px #0006}
#slot{position:absolute;left:11px;right:11px;top:0;height:7px;background:#151816;border-radius:0 0 4px 4px}
#lens{position:absolute;left:50%;top:54%;width:172px;height:172px;margin:-86px;border-radius:50%;background:radial-gradient(#0b0d0c 58%,#5b655e 60% 66%,#1d211f 68%);box-shadow:0 4px 12px #0008;transition:transform .25s}
#seen{position:absolute;inset:36px;width:100px;height:100px;border-radius:50%;object-fit:cover}
#blades{position:absolute;inset:36px;border-radius:50%;background:repeating-conic-gradient(#202422 0 57deg,#303633 57deg 60deg);transform:scale(0);transition:transform .012s}
#blades.shut{transform:scale(1)}
#lamp{position:absolute;right:38px;top:40px;width:20px;height:20px;border-radius:50%;background:#4b3c22;box-shadow:inset 0 0 3px #0008}
#lamp.on{background:#ffb649;box-shadow:0 0 16px 5px #ffb64999}
#release{position:absolute;left:30px;top:32px;width:68px;height:68px;border-radius:50%;border:0;background:radial-gradient(circle at 35% 30%,#f3ede0,#b9b1a1);box-shadow:0 4px 0 #6d675b,0 6px 10px #0006;color:#2a282c;font-weight:600;touch-action:none;user-select:none}
#release.down{transform:translateY(4px);box-shadow:0 0 0 #6d675b}
#plate{position:absolute;right:20px;bottom:16px;font:11px ui-monospace,monospace;color:#d9e0d8}
#tells{min-height:1.5em;margin:10px 0 0;font-weight:600;text-align:center}
.bar{display:flex;flex-wrap:wrap;gap:8px;margin:8px 0}
#side{display:grid;align-content:start;gap:14px;min-width:0}
#states{display:flex;flex-wrap:wrap;gap:6px 16px;font:13px ui-monospace,monospace}
#states b{color:var(--word)}
#traces{width:100%;height:220px;display:block;border:1px solid var(--rule)}
#log{height:168px;overflow:auto;border:1px solid var(--rule);padding:4px 10px;font:12px/1.5 ui-monospace,monospace;white-space:pre-wrap}
#log:empty::before{content:"What the camera says comes here.";color:var(--faint)}
#log .loud{color:var(--fault)}
#tray{display:flex;gap:10px;overflow-x:auto;align-items:flex-start;min-height:40px}
#tray button{padding:0;border:0;flex:none;background:none;border-radius:0;box-shadow:0 1px 4px #0005}#tray canvas{display:block}
.quiet{color:var(--faint);font-size:13px}
`;

const holdDoes: Record<LiveDesk['hold']['does'], string> = {
  none: '',
  picture: 'takes a picture',
  reprint: 'prints the last picture again',
  feed: 'feeds paper',
  load: 'helps to load paper',
  'new-roll': 'takes note of a new roll',
  close: 'closes the camera',
};

/** The page of the live desk: a camera to press, its paper, its traces, and what may go wrong. */
export const livePage = (title: string, hold: LiveDesk['hold']): string => `<!doctype html>
<html lang="en"><head><meta charset="utf-8"><meta name="viewport" content="width=device-width,initial-scale=1">
<link rel="icon" href="data:,"><title>${escapeText(title)}</title><style>${style}</style></head><body>
<header><h1>${escapeText(title)}</h1><span>space bar or the round button takes a picture${holdDoes[hold.does] ? `; held for ${hold.ms / 1000} s it ${holdDoes[hold.does]}` : ''}</span><span id="link" role="status"></span></header>
<main>
<section id="camera" aria-label="The camera">
<div id="out"><canvas id="paper" role="img" aria-label="Paper that comes out of the camera; a click tears it off"></canvas></div>
<div id="body"><div id="slot"></div>
<button id="release" type="button" aria-label="Shutter button">press</button>
<div id="lens" aria-hidden="true"><canvas id="seen"></canvas><div id="blades"></div></div>
<div id="lamp" role="img" aria-label="Lamp"></div><div id="plate"></div></div>
<p id="tells" role="status" aria-live="polite"></p>
<div class="bar"><button type="button" id="tear">Tear off <kbd>t</kbd></button><button type="button" id="roll">New roll <kbd>r</kbd></button><button type="button" id="sound" aria-pressed="false">Sound</button></div>
</section>
<section id="side">
<div><h2>What may go wrong</h2><span class="quiet">Once brings it about, once more puts it right. Watch the lamp.</span><div class="bar" id="mishaps"></div></div>
<div><h2>Where it is</h2><div id="states"></div></div>
<div><h2>The last eight seconds</h2><canvas id="traces" role="img" aria-label="Traces of button, coil, blades, head, paper, motor and lamp"></canvas></div>
<div><h2>Log</h2><div id="log" tabindex="0" role="region" aria-label="Log"></div></div>
<div><h2>Torn off</h2><div id="tray"><span class="quiet">nothing yet</span></div></div>
</section>
</main><script>${liveScript}</script></body></html>
`;
