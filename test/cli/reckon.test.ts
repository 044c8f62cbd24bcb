import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { afterAll, describe, expect, it } from 'vitest';
import reckon from '../../src/cli/reckon.ts';
import { type Sheet, shown } from '../../src/workshop/reckon/sheet.ts';
import { refusalOf, runCommand, unfolded } from './io.ts';

const folder = mkdtempSync(`${tmpdir()}/slipshutter-reckon-`);
afterAll(() => rmSync(folder, { recursive: true }));
const config = `${folder}/c.json`;
writeFileSync(config, '{}');

const run = async (
  positionals: string[],
  values: Record<string, string | boolean | string[]> = {},
): Promise<string> => {
  const { code, out } = await runCommand(reckon, positionals, { config, ...values });
  expect(code).toBe(0);
  return out;
};
const sheet = async (name: string, ...set: string[]): Promise<Sheet> =>
  JSON.parse(await run([name], { json: true, set }));
const value = ({ results }: Sheet, name: string): number | undefined => results.find(one => one.name === name)?.value;
const refused = async (positionals: string[], ...set: string[]): Promise<string> => {
  const { code, words } = await refusalOf(reckon, positionals, { config, set });
  expect(code).toBe(2);
  return words;
};

describe('reckon', () => {
  it.each(['supply', 'coil', 'paper', 'line', 'boot'])('%s: every sum has formula, unit and source', async name => {
    const { results, inputs } = await sheet(name);
    expect(results.length).toBeGreaterThan(2);
    for (const one of results) {
      expect(one.formula).not.toBe('');
      expect(one.source).toMatch(/read|textbook|from memory|no source/);
    }
    const text = await run([name]);
    for (const one of inputs) expect(text).toContain(one.name);
  });

  // Worked values: see test/workshop/reckon/sums.test.ts.
  it('supply, by the worked examples: 2.85 A, 0.43 V, 11 %; 384 × 560 dots at 30 % and 0.3 mJ are 19.4 J; 7.9 h', async () => {
    const pulse = (0.3 * 166 * 1000) / 7.4 ** 2;
    const given = await sheet(
      'supply',
      'profile.head.elementOhm=166',
      `profile.head.heatingUs=${pulse}`,
      'pictureMm=70',
      'ink=0.3',
    );
    expect(value(given, 'peakAmps')).toBeCloseTo(2.85, 2);
    expect(value(given, 'sagVolts')).toBeCloseTo(0.43, 2);
    expect(value(given, 'energyMissing')).toBeCloseTo(11, 0);
    expect(value(given, 'pictureJ')).toBeCloseTo(19.4, 1);
    expect(value(given, 'idleHours')).toBeCloseTo(7.9, 1);
    expect(value(given, 'hours')).toBeLessThan(value(given, 'idleHours') ?? 0);
  });

  it('supply, by the worked examples: two cells and wiring are 0.15 Ω; 0.3061 mJ with 0.003542 mJ/°C are 0.235 mJ at 45 °C', async () => {
    const given = await sheet('supply', 'paperMj=0.3061', 'paperMjPerC=0.003542', 'headC=45');
    expect(value(given, 'packOhm')).toBeCloseTo(0.15, 10);
    expect(value(given, 'neededMj')).toBeCloseTo(0.235, 3);
    // 0.3061 mJ, 245 Ω, 7.4 V: 1.37 ms; no load but the head's own sag, which is taken away here.
    const stiff = await sheet(
      'supply',
      'paperMj=0.3061',
      'profile.head.elementOhm=245',
      'supply.internalOhm=0',
      'wiringMohm=0',
    );
    expect(value(stiff, 'neededUs')).toBeCloseTo(1370, -1);
  });

  it('coil, by the worked examples: 0.196 ms; 2.35 and 0.51 ms', async () => {
    const text = await sheet(
      'coil',
      'supply.nominalVolts=12',
      'supply.coilOhm=150',
      'supply.coilMh=30',
      'pullInAmps=0.05',
    );
    expect(value(text, 'pullInMs')).toBeCloseTo(0.196, 3);
    const slow = await sheet('coil', 'supply.nominalVolts=12', 'supply.coilOhm=12', 'zenerVolts=24');
    expect(value(slow, 'releaseDiodeMs')).toBeCloseTo(2.35, 2);
    expect(value(slow, 'releaseZenerMs')).toBeCloseTo(0.51, 2);
    expect(value(slow, 'tauMs')).toBeCloseTo(1.67, 2);
    // 60 K warmer, copper: 14.8 Ω, and 0.81 A instead of 1.00 A.
    expect(value(slow, 'hotOhm')).toBeCloseTo(14.8, 1);
    expect([value(slow, 'amps'), value(slow, 'hotAmps')].map(amps => amps?.toFixed(2))).toEqual(['1.00', '0.81']);
    // Duty = on/(on + off): two strokes of 25 ms, 300 ms apart (solenoid makers' guides).
    expect(value(slow, 'dutyPercent')).toBeCloseTo((100 * 50) / 350, 10);
  });

  it('paper and line, by the worked examples', async () => {
    const paper = await sheet('paper', 'pictureMm=70', 'marginMm=15');
    expect(value(paper, 'pictures')).toBe(224);
    // As configured: 64 mm, twice 31 lines of marks at 8 dots/mm, 14 mm to the tear edge; each frame of a burst is a picture.
    const own = await sheet('paper', 'picture.burst=3');
    expect(own.inputs.filter(({ name }) => name.endsWith('Mm')).slice(-2)).toMatchObject([
      { name: 'pictureMm', value: 64 },
      { name: 'marginMm', value: 21.75 },
    ]);
    expect(value(own, 'pictures')).toBe(222);
    const line = await sheet('line', 'printer.baud=230400');
    expect(value(line, 'lineMmPerS')).toBeCloseTo(60 / 1.00694, 2);
    expect(value(line, 'blackLineMs')).toBeCloseTo(4.92, 10);
    // Worst black line at the command's defaults, and at 11/120/40.
    expect(value(line, 'blackMmPerS')).toBeCloseTo(25.4, 1);
    const other = await sheet(
      'line',
      'profile.head.dotsAtOnce=96',
      'profile.head.heatingUs=1200',
      'profile.head.intervalUs=400',
      'supply.internalOhm=0.05',
    );
    expect(value(other, 'blackLineMs')).toBeCloseTo(6.4, 10);
    expect(value(other, 'blackMmPerS')).toBeCloseTo(19.5, 1);
    // 192,000 Bd feed 50 mm/s before the commands' 0.7 %.
    const fast = await sheet('line', 'profile.motor.mmPerS=50');
    expect((value(fast, 'leastBaud') ?? 0) / 192_000).toBeCloseTo(1.007, 3);
    expect(value(await sheet('boot'), 'fastConsoleS')).toBeCloseTo(0.104, 3);
  });

  it('boot takes its figures from a captured console', async () => {
    const log = `${folder}/console.log`;
    // A kernel's lines in their usual form; the text is invented.
    const lines = [
      '[    0.000000] Linux version 6.1.0',
      '[    0.000000] Kernel command line: console=ttyS0,9600 root=/dev/x',
      '[    1.500000] Run /sbin/init as init process',
      '[    2.250000] a part was found',
    ];
    const text = `${lines.join('\r\n')}\r\n`;
    writeFileSync(log, text);
    const measured = JSON.parse(await run(['boot', log], { json: true }));
    // 8N1: ten bits a byte.
    expect(value(measured, 'consoleS')).toBeCloseTo((text.length * 10) / 9600, 6);
    expect(measured.boot).toMatchObject({ baud: 9600, quiet: false, lastS: 2.25 });
    const words = await run(['boot', log]);
    expect(words).toContain('boot messages on the serial console');
    expect(words).toContain('never ready');
    const faster = JSON.parse(await run(['boot', log], { json: true, set: ['consoleBaud=19200'] }));
    expect(value(faster, 'consoleS')).toBeCloseTo((text.length * 10) / 19_200, 6);
  });

  it('boot says when there is none in the file, or no file', async () => {
    const log = `${folder}/empty.log`;
    writeFileSync(log, 'nothing of a boot\n');
    await expect(run(['boot', log])).rejects.toMatchObject({
      code: 'unreadable',
      message: expect.stringContaining('no boot'),
    });
    await expect(run(['boot', `${folder}/none`])).rejects.toMatchObject({ exitCode: 5 });
  });

  it('warns at limits, and says what to do', async () => {
    const warned = async (name: string, ...set: string[]) => (await sheet(name, ...set)).warnings.join('\n');
    expect(await warned('supply')).toBe('');
    expect(await warned('supply', 'supply.internalOhm=1.2')).toContain('under its floor');
    expect(await warned('supply', 'supply.internalOhm=1.2')).toContain('the supply holds');
    expect(await warned('supply', 'cellMohm=80')).toContain('0.21 Ω, more than the 0.15 Ω');
    expect(await warned('supply', 'supply.emptyVolts=6')).toContain('towards its end');
    expect(await warned('coil', 'shutter.pulseMs=100')).toContain('over its hard limit');
    expect(await warned('coil', 'pullInAmps=0.7')).toContain('never reaches');
    expect(await warned('coil', 'pullInAmps=0.55')).toContain('doesn’t pull in any more');
    expect(await warned('coil', 'shutter.pulseMs=3')).toContain('leaves little');
    expect(await warned('coil', 'shutter.lockoutMs=10')).toContain('withholds strokes');
    expect(await warned('coil', 'shutter.dutyPercent=50', 'coilKelvinPerWatt=60')).toContain(
      'lower shutter.dutyPercent',
    );
    expect(await warned('coil', 'onMohm=900')).toContain('choose a MOSFET');
    expect(await warned('paper', 'printer.rollOuterMm=14')).toContain('changing often');
    expect(await warned('paper', 'printer.paperUm=100')).toContain('no usual receipt paper');
    expect(await warned('line')).toBe('');
    expect(await warned('line', 'printer.baud=9600')).toContain('bands may show');
    expect(await warned('boot')).toContain('set quiet');
    expect(await warned('boot', 'consoleBaud=1000000')).toBe('');
  });

  it('a printer with its own adapter doesn’t load the battery', async () => {
    writeFileSync(`${folder}/own.json`, '{"printer": {"profile": "receipt-58mm"}}');
    const out = await run(['supply'], { config: `${folder}/own.json`, set: ['supply.internalOhm=9'] });
    expect(out).not.toContain('the supply holds');
    expect(out).toContain('adapter of its own');
    expect(unfolded(out)).toContain('nothing at mains voltage goes into the body');
  });

  it('gives the cautions where they are due', async () => {
    expect(await run(['coil'])).toContain('flyback');
    expect(await run(['supply'])).toContain('Lithium cells burn');
    expect(await run(['paper'])).toContain('2016/2235');
  });

  it('refuses what it can’t take, in a line', async () => {
    expect(await refused([])).toContain('reckon what?');
    expect(await refused(['suply'])).toContain("did you mean 'supply'?");
    expect(await refused(['toString'])).toContain("reckon can’t 'toString'");
    expect(await refused(['coil', 'more'])).toContain('one argument too many');
    expect(await refused(['coil'], 'supply.coilOm=3')).toContain("did you mean 'supply.coilOhm'?");
    expect(await refused(['coil'], 'supply.coilOhm=0')).toContain('from 0.5 to 1000 Ω');
    expect(await refused(['coil'], 'supply.coilOhm=')).toContain('a number are expected');
    expect(await refused(['coil'], 'supply.sensor=3')).toContain('there is no figure');
    expect(await refused(['coil'], 'constructor.name=3')).toContain('there is no figure');
    expect(await refused(['coil'], 'ink=3')).toContain('allowed are 0.01 to 1');
    expect(await refused(['paper'], 'pictureMm=1')).toContain('allowed are 5 to 2000');
    expect(await refused(['line'], 'profile.head.elementOhm=1')).toContain('from 10 to 2000');
  });

  it('numbers as a person reads them', () => {
    expect([0, 0.1044, 12, 1500, 19_063.5, 2.346, Number.POSITIVE_INFINITY].map(shown)).toEqual([
      '0',
      '0.104',
      '12',
      '1500',
      '19064',
      '2.35',
      'no limit',
    ]);
  });
});
