// Packs the package, installs the tarball in an empty folder, with and without its optional packages, and uses every
// command from there. Pending where no registry answers: what it depends on comes from one.
import { execFileSync, spawnSync } from 'node:child_process';
import {
  existsSync,
  mkdirSync,
  mkdtempSync,
  readdirSync,
  readFileSync,
  rmSync,
  statSync,
  symlinkSync,
  writeFileSync,
} from 'node:fs';
import { tmpdir } from 'node:os';
import { dirname, join, resolve } from 'node:path';
import { fileURLToPath } from 'node:url';
import { buildModules } from '../../src/bundle.mjs';

const repository = resolve(dirname(fileURLToPath(import.meta.url)), '../..');
const largestKb = 700;
const needed =
  /^(dist\/(slipshutter\.cjs|settle\.cjs|run\.bundle|[\w-]+\.mjs)|config\/[\w./-]+\.(json|md)|systemd\/[\w./-]+|package\.json|README\.md|LICENSE|CHANGELOG\.md)$/;
const never = /\/(bench|train)\W|test|\.map$|\.ts$|\.png$/;

let failed = 0;
const tell = (good, what, detail = '') => {
  if (!good) failed++;
  console.log(
    `${good ? '  ok  ' : '  FAIL'} ${what}${good || detail === '' ? '' : `\n${detail.replace(/^/gm, '         ')}`}`,
  );
};
const npm = (args, cwd, env = process.env) => spawnSync('npm', args, { cwd, env, encoding: 'utf8' });
const seconds = since => `${((performance.now() - since) / 1000).toFixed(1)} s`;

if (npm(['ping', '--fetch-retries=0', '--fetch-timeout=10000'], tmpdir()).status !== 0) {
  console.log('pending: no package registry answers, so nothing can be installed');
  process.exit(0);
}

const work = mkdtempSync(join(tmpdir(), 'slipshutter-pack-'));
process.on('exit', () => rmSync(work, { recursive: true, force: true }));

const started = performance.now();
const packed = npm(['pack', '--json', '--loglevel=error', '--pack-destination', work], repository);
if (packed.status !== 0) throw new Error(packed.stderr);
// Older versions give a list, newer ones an object by name.
const [{ files, size }] = Object.values(JSON.parse(packed.stdout.slice(packed.stdout.search(/^[[{]/m))));
const tarball = join(
  work,
  readdirSync(work).find(name => name.endsWith('.tgz')),
);
const strange = files.map(({ path }) => path).filter(path => !needed.test(path) || never.test(path));
console.log(`tarball: ${files.length} files, ${Math.round(size / 1024)} kB (${seconds(started)})`);
tell(strange.length === 0, 'holds only what it needs', strange.join('\n'));
tell(size < largestKb * 1024, `is smaller than ${largestKb} kB`);

const supplies = join(work, 'supplies');
mkdirSync(supplies);
const making = mkdtempSync(join(repository, 'node_modules/.slipshutter-'));
try {
  await buildModules({ supplies: join(repository, 'test/pack/supplies.ts') }, making);
  execFileSync(process.execPath, [join(making, 'supplies.mjs'), supplies]);
} finally {
  rmSync(making, { recursive: true });
}
writeFileSync(join(supplies, 'desk.json'), '{ "title": "a desk" }');
writeFileSync(join(supplies, 'plain.json'), '{}');
writeFileSync(
  join(supplies, 'file.json'),
  JSON.stringify({ printer: { link: 'file', device: join(work, 'printer.bin') } }),
);

const there = name => join(supplies, name);
const nothing = () => '';
const exist =
  (...paths) =>
  () =>
    paths.filter(path => !existsSync(path)).join(', ');

/** Every command with its arguments, the exit code it must have, words it must say, and what it must leave. */
const uses = (folder, natives) => {
  const at = name => join(folder, name);
  const root = at('root');
  const enlisted = [
    'etc/slipshutter/slipshutter.json',
    'etc/systemd/system/slipshutter.service',
    'usr/local/bin/slipshutter',
  ];
  const launched = () => {
    // The launcher that enlist puts in place starts this very package.
    const version = execFileSync('sh', [join(root, 'usr/local/bin/slipshutter'), '--version'], { encoding: 'utf8' });
    return /^\d+\.\d+\.\d+\n$/.test(version) ? '' : version;
  };
  const completes = () => {
    const file = join(root, 'usr/local/share/bash-completion/completions/slipshutter');
    if (!existsSync('/bin/bash')) return '';
    const script = `. "${file}"; COMP_WORDS=(slipshutter reh); COMP_CWORD=1; _slipshutter; echo "\${COMPREPLY[@]}"`;
    const said = execFileSync('bash', ['-c', script], { encoding: 'utf8' });
    return said === 'rehearse\n' ? '' : said;
  };
  const manual = () =>
    /^\.TH SLIPSHUTTER 1/m.test(readFileSync(join(root, 'usr/local/share/man/man1/slipshutter.1'), 'utf8'))
      ? ''
      : 'no page';
  return [
    [['rehearse', '--out', at('out')], 0, 'strip.png', exist(at('out/strip.png'), at('out/index.html'))],
    [
      ['replay', at('out/recording.ndjson'), '--against', at('out/log.ndjson'), '--out', at('again'), '--html'],
      0,
      'the same',
      nothing,
    ],
    [['listen', at('out/log.ndjson')], 0, 'ready for pictures', nothing],
    [['check', '--config', there('plain.json'), '--board', there('desk.json')], 0, '0 faults', nothing],
    natives
      ? [['check', '--config', there('plain.json')], 4, 'board:', nothing]
      : [['check', '--config', there('plain.json')], 4, 'npm install koffi', nothing],
    ...['supply', 'coil', 'paper', 'line', 'boot'].map(sheet => [['reckon', sheet], 0, 'sources', nothing]),
    [['proof', there('photo.jpg'), at('out/strip.png'), '--out', at('proofs')], 0, 'photo.png', exist(at('proofs'))],
    [['proof', there('photo.jpg'), '--out', at('proofs'), '--print', '--config', there('file.json')], 0, '', nothing],
    [['wedge', 'print', '--out', at('wedge.png')], 0, 'dots', exist(at('wedge.png'))],
    [['wedge', 'read', there('scan.png'), '--out', at('mine.json')], 0, 'dots asked', exist(at('mine.json'))],
    [['gather', at('out/strip.png'), '--out', at('home')], 0, 'SLIP-000001', exist(at('home'))],
    [['album', 'list', '--album', there('album')], 0, '', nothing],
    [['album', 'verify', '--album', there('album')], 0, '', nothing],
    [['album', 'export', '1-2', '--album', there('album'), '--out', at('exported')], 0, '', exist(at('exported'))],
    [['tryout', '--virtual', '--yes', '--out', at('tried')], 0, 'printer  works', exist(at('tried/webcam-dots.png'))],
    [['tryout', 'lamp', '--yes', '--config', there('plain.json')], 4, 'can’t be had', nothing],
    [['run', '--config', there('plain.json')], 4, natives ? '' : 'npm install', nothing],
    [['enlist', '--root', root], 0, 'Nothing was changed', () => (existsSync(root) ? 'it wrote' : '')],
    [['enlist', '--root', root, '--write'], 0, 'put in place', exist(...enlisted.map(path => join(root, path)))],
    [['enlist', '--root', root], 0, 'is there already', () => launched() || completes() || manual()],
    [['check', '--config', join(root, enlisted[0]), '--board', there('desk.json')], 0, '0 faults', nothing],
    [
      ['enlist', '--root', root, '--remove', '--write'],
      0,
      'is yours, stays',
      () => (existsSync(join(root, enlisted[1])) ? 'left' : ''),
    ],
    [['nonsense'], 2, 'there is no command', nothing],
  ];
};

/** A search path with node, npm and a shell, and nothing that compiles. */
const barePath = () => {
  const folder = join(work, 'bare');
  mkdirSync(folder);
  for (const name of ['node', 'npm', 'sh', 'env']) {
    const from = process.env.PATH.split(':').find(place => existsSync(join(place, name)));
    symlinkSync(join(from, name), join(folder, name));
  }
  return folder;
};

const useAll = (title, options, natives, { env = process.env, only = null } = {}) => {
  const folder = join(work, title.replaceAll(' ', '-'));
  mkdirSync(folder);
  const installing = performance.now();
  const { status, stderr } = npm(
    ['install', tarball, '--no-audit', '--no-fund', '--loglevel=error', ...options],
    folder,
    env,
  );
  const program = join(folder, 'node_modules/.bin/slipshutter');
  console.log(`\n${title}: installed in ${seconds(installing)}`);
  tell(status === 0 && existsSync(program), 'installs', stderr);
  const native = ['koffi', 'epoll', 'onoff', 'serialport'].filter(name =>
    existsSync(join(folder, 'node_modules', name)),
  );
  tell(native.join() === natives.join(), `native packages: ${native.join(', ') || 'none'}`);
  const call = args =>
    spawnSync(program, args, { cwd: folder, encoding: 'utf8', env: { ...process.env, NO_COLOR: '1' } });

  const using = performance.now();
  const overview = call(['--help']).stdout;
  const names = [...overview.matchAll(/^ {2}([a-z]+) {2,}/gm)].map(([, name]) => name);
  tell(names.length >= 12, `--help names ${names.length} commands`, overview);
  for (const name of names) {
    const { status: code, stdout } = call([name, '--help']);
    if (code !== 0 || !stdout.includes(`slipshutter ${name}`)) tell(false, `${name} --help`, stdout);
  }
  const used = new Set();
  for (const [args, wanted, words, leaves] of uses(folder, natives.length > 0)) {
    if (only && !only.includes(args[0])) continue;
    used.add(args[0]);
    const { status: code, stdout, stderr: said } = call(args);
    const whole = stdout + said;
    const trace = /a fault of the program itself|^\s+at .*:\d+:\d+/m.test(whole);
    const missing = code === wanted ? leaves() : '';
    const good = code === wanted && whole.includes(words) && !trace && missing === '';
    const shown = args.map(arg => arg.replace(`${folder}/`, '').replace(`${supplies}/`, '')).join(' ');
    tell(
      good,
      `${shown} (${code})`,
      `wanted ${wanted} and '${words}'; missing: ${missing || 'nothing'}\n${whole.slice(-2000)}`,
    );
  }
  const unused = names.filter(name => !used.has(name));
  if (!only) tell(unused.length === 0, 'every command was used', unused.join(', '));
  const stray = readdirSync(folder).filter(name => name.startsWith('.') || name.endsWith('.new'));
  tell(stray.length === 0, 'nothing is left lying about', stray.join(', '));
  console.log(`  used in ${seconds(using)}`);
};

useAll('with all packages', [], ['koffi', 'epoll', 'onoff', 'serialport']);
useAll('without a compiler', [], ['koffi', 'serialport'], {
  env: { ...process.env, PATH: barePath() },
  only: ['run', 'tryout', 'wedge'],
});
useAll('without optional packages', ['--omit=optional'], []);
console.log(
  `\n${failed === 0 ? 'all as it should be' : `${failed} FAILED`}, ${seconds(started)} in all; the tarball was ${statSync(tarball).size} bytes`,
);
process.exitCode = failed === 0 ? 0 : 1;
