import { describe, expect, it } from 'vitest';
import type { Config } from '../../../src/config/schema.ts';
import { type Answer, type Deep, found, mute, tryOut, verdicts } from './desk.ts';

describe('a part that doesn’t work', () => {
  it('whose line or package can’t be had is not asked about', async () => {
    const { tried, said, questions } = await tryOut(['lamp', 'motor'], { lacks: { lamp: 'line 22 is in use' } });
    expect(verdicts(tried)).toEqual(['lamp fails', 'motor works']);
    expect(said).toContain('It can’t be had: line 22 is in use');
    expect(questions[0]).toContain('lens');
  });

  it('lamp: dark', async () => {
    const { tried, said } = await tryOut(['lamp'], { answers: () => false });
    expect(tried[0].verdict).toBe('fails');
    expect(said).toContain('series resistor');
  });

  it('button: nothing heard; welded; the wrong way round', async () => {
    const cut = await tryOut(['button'], { before: desk => desk.control.button.stick(false) });
    expect([cut.tried[0].verdict, cut.said]).toEqual(['fails', expect.stringContaining('Nothing was heard')]);
    const welded = await tryOut(['button'], {
      // From the third press on the contact stays closed.
      before: desk => {
        let closings = 0;
        desk.rig.button.listen(({ down }) => {
          if (down && ++closings === 8) desk.control.button.stick(true);
        });
      },
    });
    expect([welded.tried[0].verdict, welded.said]).toEqual(['fails', expect.stringContaining('activeLow')]);
    expect(welded.tried[0].findings).toEqual([]);
  });

  it('button: closed before and after, with nobody at it, is the wrong way round', async () => {
    const turned = (answers: () => Answer) =>
      tryOut(['button'], {
        answers,
        before: desk => {
          // The level that a line has is said first.
          desk.rig.clock.after(0, () => desk.control.contact(true));
          desk.press = times => {
            for (let i = 0; i < 2 * times; i++)
              desk.rig.clock.after((300 + 350 * i) * 1000, () => desk.control.contact(i % 2 === 1));
          };
        },
      });
    const { tried, said } = await turned(() => true);
    expect(said).toContain('The contact is closed now.');
    expect(verdicts(tried)).toEqual(['button works']);
    expect(found(tried)).toMatchObject({ 'button.activeLow': false });
    for (const answer of [false, null]) {
      const unsure = await turned(() => answer);
      expect([unsure.tried[0].verdict, unsure.tried[0].findings]).toEqual(['fails', []]);
    }
  });

  it('button: long bounce asks for a longer settle time', async () => {
    const { tried, said } = await tryOut(['button'], {
      before: desk => {
        let lastUs = Number.NEGATIVE_INFINITY;
        desk.rig.button.listen(({ down, atUs }) => {
          // One more swing, 9 ms after each closing's first edge.
          if (down && atUs - lastUs > 100_000) {
            desk.rig.clock.after(9000, () => desk.control.contact(false));
            desk.rig.clock.after(9300, () => desk.control.contact(true));
          }
          lastUs = atUs;
        });
      },
    });
    // A third to spare over 9,300 µs.
    expect(said).toMatch(/under {2}10000 µs {2}▇{10}/);
    expect(Number(found(tried)['button.settleMs'])).toBe(13);
  });

  it('supply: empty', async () => {
    const empty = await tryOut(['supply'], { before: desk => desk.control.supply.weaken(6) });
    expect([empty.tried[0].verdict, empty.said]).toEqual(['fails', expect.stringContaining('charge it')]);
  });

  it('webcam: unplugged', async () => {
    const { tried, said } = await tryOut(['webcam'], { before: desk => desk.control.webcam.unplug() });
    expect(tried[0].verdict).toBe('fails');
    expect(said).toContain('No picture within ten seconds');
  });

  it('webcam: the lamp’s blink is seen between one and three frames later', async () => {
    const { said } = await tryOut(['webcam']);
    const [, exposedMs, arrivedMs] = /shows it: (\d+)(?: to \d+)? ms until it was exposed, (\d+)/.exec(said) ?? [];
    // 30 frames a second: what begins after the blink is exposed within two periods, and arrives 0.9 of one later.
    expect(Number(exposedMs)).toBeGreaterThan(0);
    expect(Number(exposedMs)).toBeLessThanOrEqual(67);
    expect(Number(arrivedMs) - Number(exposedMs)).toBe(30);
  });

  it('motor: the wrong way; strain on the way', async () => {
    expect((await tryOut(['motor'], { answers: () => false })).tried[0].verdict).toBe('fails');
    const reversed = await tryOut(['motor'], { answers: question => !question.includes('in first') });
    expect(verdicts(reversed.tried)).toEqual(['motor works']);
    expect(found(reversed.tried)).toEqual({ 'motor.inLine': 24, 'motor.outLine': 23, 'motor.travelMs': 400 });
    const strained = await tryOut(['motor'], { answers: question => !question.includes('300 ms') });
    expect(found(strained.tried)).toEqual({ 'motor.travelMs': 200 });
  });

  it('motor: never longer than its travel, and both ways for each length', async () => {
    const { desk, questions } = await tryOut(['motor'], { settings: { motor: { travelMs: 250 } } });
    expect(questions.slice(1).map(question => /\d+/.exec(question)?.[0])).toEqual(['120', '200', '250']);
    const onMs = (name: 'motor-in' | 'motor-out') => {
      const samples = desk.traces.of(name);
      return samples.flatMap(({ atUs, value }, i) => (value === 1 ? [(samples[i + 1].atUs - atUs) / 1000] : []));
    };
    expect(onMs('motor-in').map(Math.round)).toEqual([60, 120, 200, 250]);
    expect(onMs('motor-out').length).toBe(4);
    expect(Math.max(...onMs('motor-in'), ...onMs('motor-out'))).toBeLessThanOrEqual(250);
  });

  it('shutter: from short to long within its limit, three each, and never near its duty', async () => {
    const clean = (question: string) => !question.includes('clean') || /at (18|25|35|50|60) ms/.test(question);
    const { tried, desk } = await tryOut(['shutter'], { answers: clean });
    expect(found(tried)).toEqual({ 'shutter.pulseMs': 27 });
    const samples = desk.traces.of('coil');
    const pulses = samples.flatMap(({ atUs, value }, i) =>
      value === 1 ? [{ atUs, onUs: samples[i + 1].atUs - atUs }] : [],
    );
    expect(pulses.map(({ onUs }) => onUs / 1000)).toEqual([25, 5, 5, 5, 8, 8, 8, 12, 12, 12, 18, 18, 18]);
    const onWithinUs = (fromUs: number) =>
      pulses.filter(({ atUs }) => atUs >= fromUs && atUs < fromUs + 10_000_000).reduce((sum, one) => sum + one.onUs, 0);
    expect(Math.max(...pulses.map(({ atUs }) => onWithinUs(atUs)))).toBeLessThan(0.15 * 10_000_000);
    expect(desk.traces.of('coil-limit')).toEqual([]);
  });

  it('shutter: silent, no longer pulse is tried unasked', async () => {
    const first = await tryOut(['shutter'], { answers: () => false });
    expect(first.tried[0].verdict).toBe('fails');
    expect(first.desk.traces.of('coil').filter(({ value }) => value === 1).length).toBe(1);
    const further = await tryOut(['shutter'], {
      answers: question => question.includes('up to 60 ms') || question.includes('at 60 ms'),
    });
    expect(found(further.tried)).toEqual({ 'shutter.pulseMs': 60 });
    expect(further.tried[0].findings[0].why).toContain('little is left');
    const never = await tryOut(['shutter'], { answers: question => question.includes('up to 60 ms') });
    expect([never.tried[0].verdict, never.said]).toEqual(['fails', expect.stringContaining('Not even 60 ms')]);
  });

  it('shutter: a line that can’t be driven is said in words, and the next part is tried', async () => {
    const { tried, said } = await tryOut(['motor', 'shutter', 'printer'], {
      before: desk => desk.control.shutter.fail('the line is in use'),
    });
    expect(verdicts(tried)).toEqual(['motor works', 'shutter fails', 'printer works']);
    expect(said).toContain('the line is in use');
  });

  it('printer: no paper, pulled plug, a head that is too narrow', async () => {
    const empty = await tryOut(['printer'], { before: desk => desk.control.printer.paperOut(true) });
    expect([empty.tried[0].verdict, empty.said]).toEqual(['fails', expect.stringContaining('it has no paper')]);
    const gone = await tryOut(['printer'], { before: desk => desk.control.printer.unplug() });
    expect([gone.tried[0].verdict, gone.said]).toEqual(['fails', expect.stringContaining('it doesn’t answer')]);
    const torn = await tryOut(['printer'], {
      before: desk => desk.rig.clock.after(3_000_000, () => desk.control.printer.paperOut(true)),
    });
    expect([torn.tried[0].verdict, torn.said]).toEqual(['fails', expect.stringContaining('not printed to its end')]);
    const narrow = await tryOut(['printer'], { answers: () => false });
    expect([narrow.tried[0].verdict, narrow.said]).toEqual(['fails', expect.stringContaining('narrower class')]);
    expect(narrow.questions[0]).toContain('384 dots');
  });

  it('printer: its paper can be looked at; where nobody does, only one that answers is known to work', async () => {
    const silent = { printer: { profile: mute } };
    const { files, said } = await tryOut(['printer'], { answers: () => null });
    expect([files, said]).toEqual([['pattern.png'], expect.stringContaining('The paper is in pattern.png')]);
    const verdict = async (settings: Deep<Config>) =>
      (await tryOut(['printer'], { answers: () => null, settings })).tried[0].verdict;
    expect(await verdict({})).toBe('works');
    expect(await verdict(silent)).toBe('unjudged');
  });

  it('printer: says how to read what this printer’s pattern holds', async () => {
    const panel = await tryOut(['printer']);
    expect(panel.said).toContain('heating  ');
    expect(panel.said).toContain('those that fall apart: motor.mmPerS');
    const held = await tryOut(['printer'], { settings: { printer: { flow: 'rtscts' } } });
    expect(held.said).toContain('flow control keeps them whole');
    const receipt = await tryOut(['printer'], { settings: { printer: { profile: 'receipt-58mm', link: 'usb' } } });
    expect(receipt.said).not.toContain('heating  ');
    expect(receipt.said).not.toContain('motor.mmPerS');
    expect(receipt.said).not.toContain('bufferBytes');
    expect(receipt.said).toContain('ruler  ');
  });

  it.each(['receipt-58mm', 'receipt-80mm', 'panel-80mm'])(
    'printer: the pattern comes to its end on a %s without flow control, whatever the probe overran',
    async profile => {
      const { tried, said } = await tryOut(['printer'], { settings: { printer: { profile } } });
      expect([tried[0].verdict, said]).toEqual(['works', expect.stringContaining('Printed in')]);
    },
  );

  it('the printer’s pattern is as long as it says', async () => {
    const { desk } = await tryOut(['printer']);
    const lines = Number(desk.traces.of('paper').at(-1)?.value);
    expect(Math.abs(lines / 8 - 250)).toBeLessThan(10);
  });
});
