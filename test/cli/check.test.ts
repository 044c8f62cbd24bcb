import { existsSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { afterAll, describe, expect, it } from 'vitest';
import check from '../../src/cli/check.ts';
import { boardSchema } from '../../src/config/board.ts';
import { tryCommand, unfolded } from './io.ts';

const folder = mkdtempSync(`${tmpdir()}/slipshutter-check-`);
afterAll(() => rmSync(folder, { recursive: true }));
const file = (name: string, content: unknown): string => {
  const path = `${folder}/${name}`;
  writeFileSync(path, typeof content === 'string' ? content : JSON.stringify(content));
  return path;
};
const good = file('good.json', '{}');
const desk = file('desk.json', { title: 'a desk' });

const run = async (values: Record<string, string | boolean>, positionals: string[] = []) => {
  const { code, out, fault } = await tryCommand(check, positionals, values);
  return { code, out: unfolded(fault ? fault.message : out) };
};

describe('check, the command', () => {
  it('a desk with nothing against it: exit code 0', async () => {
    const { code, out } = await run({ config: good, board: desk });
    expect(code).toBe(0);
    expect(out).toContain('board: a desk');
    expect(out).toContain('0 faults, 0 warnings');
  });

  it('faults of the configuration come first, all at once: exit code 2', async () => {
    const bad = file('bad.json', '{\n"buton": {},\n"shutter": {"pulseMs": 900}\n}');
    const { code, out } = await run({ config: bad, board: desk });
    expect(code).toBe(2);
    expect(out).toContain(`✗ buton: ${bad}, line 2: there is no such setting`);
    expect(out).toContain("mend  did you mean 'button'?");
    expect(out).toContain(`✗ shutter.pulseMs: ${bad}, line 3: is 900`);
    expect(out).toContain('2 faults');
    const json = JSON.parse((await run({ config: bad, board: desk, json: true })).out);
    expect(json).toMatchObject({
      faults: 2,
      board: null,
      findings: [{ setting: 'buton' }, { setting: 'shutter.pulseMs' }],
    });
  });

  it('a file that is no JSON is named once', async () => {
    const broken = file('broken.json', '{ "button": ');
    const { code, out } = await run({ config: broken, board: desk });
    expect(code).toBe(2);
    expect(out).toContain(`✗ ${broken}, line 1: `);
    expect(out.split(broken).length - 1).toBe(2);
  });

  it('what the board lacks: exit code 4, with the caution before a hand reaches in', async () => {
    const board = file('board.json', '{ // on the bench\n "title": "bench", "chips": [] }');
    const { code, out } = await run({ config: good, board });
    expect(code).toBe(4);
    expect(out).toContain('✗ gpio.chip: there is no GPIO chip');
    expect(out).toContain('hundreds of volts');
    expect(JSON.parse((await run({ config: good, board, json: true })).out)).toMatchObject({
      board: 'bench',
      faults: 1,
    });
  });

  it('a profile that can’t be had is a fault of the configuration', async () => {
    const config = file('profile.json', { printer: { profile: 'panel-59mm' } });
    const { code, out } = await run({ config, board: desk });
    expect(code).toBe(2);
    expect(out).toContain("did you mean 'panel-58mm'");
  });

  it('a look and a profile that aren’t there are said with the other faults, each with its line', async () => {
    const config = file(
      'looks.json',
      '{\n"buton": {},\n"picture": {\n"look": "sofd" },\n"printer": {\n"profile": "panel-59mm" }\n}',
    );
    const { code, out } = await run({ config, board: desk });
    expect(code).toBe(2);
    expect(out).toContain(`✗ buton: ${config}, line 2: `);
    expect(out).toContain(`✗ picture.look: ${config}, line 4: is "sofd", and there is no such look`);
    expect(out).toContain('did you mean "soft"?');
    expect(out).toContain(`✗ printer.profile: ${config}, line 6: there is no profile called "panel-59mm"`);
    expect(out).toContain('3 faults');
    const own = file('own-look.json', { picture: { look: 'mine', looks: { mine: {} } } });
    expect((await run({ config: own, board: desk })).code).toBe(0);
    const trick = file('trick.json', { picture: { look: 'constructor' } });
    expect((await run({ config: trick, board: desk })).out).toContain('there is no such look');
  });

  it('faults within a profile’s file stand beside those of the configuration', async () => {
    file('mine.json', '{\n"widthDotz": 384 }');
    const config = file('with-mine.json', { lamp: { brightness: 3 }, printer: { profile: 'mine.json' } });
    const { code, out } = await run({ config, board: desk });
    expect(code).toBe(2);
    expect(out).toContain('✗ lamp.brightness: ');
    expect(out).toMatch(/✗ printer\.profile: .*mine\.json, line 2, widthDotz: there is no such setting/);
  });

  it('a board’s description with faults, or no file, says so', async () => {
    const board = file('wrong.json', { chipz: [] });
    expect(await run({ config: good, board })).toEqual({
      code: 2,
      out: expect.stringContaining("chipz: there is no such setting; did you mean 'chips'?"),
    });
    expect((await run({ config: good, board: `${folder}/none.json` })).out).toContain('there is no such file');
    expect((await run({ config: `${folder}/none.json` })).code).toBe(2);
    expect((await run({}, ['more'])).code).toBe(2);
  });

  it.skipIf(!existsSync('/proc/self'))(
    'this machine, written down and read again, finds the same (pending where there is no /proc)',
    async () => {
      const save = `${folder}/here.json`;
      const here = await run({ config: good, save });
      const board = boardSchema.parse(JSON.parse(readFileSync(save, 'utf8')));
      expect(board.title).not.toBe('');
      expect(board.nodes).toHaveProperty('/dev/video0');
      expect(board.commandLine.split(' ').every(word => word === '' || word.startsWith('console='))).toBe(true);
      expect(board.disk?.freeMb).toBeGreaterThan(0);
      const again = await run({ config: good, board: save });
      expect(again).toEqual(here);
      expect((await run({ config: good, save: `${folder}/no/where` })).out).toContain('can’t be written');
      // Who isn't known here has no groups.
      expect((await run({ config: good, user: 'nobody-like-that' })).out).toContain('board:');
    },
  );
});
