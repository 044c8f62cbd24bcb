import { request } from 'node:http';
import { describe, expect, it } from 'vitest';
import { live } from '../../../sim/live/live.ts';
import { defaultProfile } from '../../../src/config/profile.ts';
import { configSchema } from '../../../src/config/schema.ts';

const options = {
  title: 'desk',
  port: 0,
  config: configSchema.parse({ picture: { look: 'plain' }, webcam: { format: 'GREY', widthPx: 160, heightPx: 120 } }),
  profile: defaultProfile(),
  imprint: null,
  seed: 1,
  scene: 'party' as const,
  photos: [],
};
const statusOf = (url: string) =>
  new Promise<number>((resolve, reject) =>
    request(url, { agent: false }, answer => {
      answer.resume();
      resolve(answer.statusCode ?? 0);
    })
      .on('error', reject)
      .end(),
  );

describe('playing with the desk', () => {
  it('says where the page is, serves it until told to end, then lets go of its port', async () => {
    const abort = new AbortController();
    let say: (text: string) => void = () => {};
    const told = new Promise<string>(resolve => {
      say = resolve;
    });
    const played = live(options, { out: say, screen: null, keys: () => () => {}, signal: abort.signal });
    const url = /http:\S+/.exec(await told)?.[0] ?? '';
    expect(await statusOf(url)).toBe(200);
    abort.abort();
    await played;
    await expect(statusOf(url)).rejects.toThrow('ECONNREFUSED');
  });

  it('ends at the key, gives the terminal back and stops listening to keys', async () => {
    const written: string[] = [];
    let press: (text: string) => void = () => {};
    let listening = false;
    const played = live(options, {
      out: text => written.push(text),
      screen: { columns: 120, rows: 40, write: text => written.push(text) },
      keys(pressed) {
        press = pressed;
        listening = true;
        return () => {
          listening = false;
        };
      },
      signal: new AbortController().signal,
    });
    await expect.poll(() => listening).toBe(true);
    press('p');
    press('q');
    await played;
    expect(listening).toBe(false);
    // The alternate screen is left and the cursor is back.
    expect(written.at(-1)).toBe('\u001b[0m\u001b[?25h\u001b[?1049l');
  });
});
