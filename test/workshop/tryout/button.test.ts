import { describe, expect, it } from 'vitest';
import { bounceHistogram, settleMsFor, studyBounce } from '../../../src/workshop/tryout/button.ts';
import { restMsAfter } from '../../../src/workshop/tryout/shutter.ts';
import { withFindings } from '../../../src/workshop/tryout/write-findings.ts';

describe('what a trial makes of its readings', () => {
  it('groups edges to closings and openings', () => {
    const study = studyBounce([0, 400, 1557, 200_000, 206_200, 400_000]);
    expect(study.bouncesUs).toEqual([1557, 6200, 0]);
    expect(study.longestUs).toBe(6200);
    expect(study.meanUs).toBeCloseTo((1557 + 6200) / 3);
    expect(studyBounce([]).bouncesUs).toEqual([]);
  });

  it('never suggests less than the published longest bounce of 6,200 µs (Ganssle, A Guide to Debouncing, as quoted) asks for', () => {
    expect(settleMsFor(studyBounce([0, 300]))).toBe(7);
    expect(settleMsFor(studyBounce([0, 9000]))).toBe(12);
  });

  it('draws a bar a length', () => {
    expect(bounceHistogram(studyBounce([0, 1500, 100_000, 101_500]))).toContain('▇▇ 2');
  });

  it('rests so long that the duty is half of what is allowed', () => {
    expect(25 / (25 + restMsAfter(25, 15))).toBeLessThan(0.15 / 2);
  });

  it('writes findings and leaves comments alone', () => {
    const text = '{\n  // by hand\n  "button": { "settleMs": 5 /* old */ }\n}\n';
    const written = withFindings(text, [
      { path: ['button', 'settleMs'], value: 9, why: '' },
      { path: ['shutter', 'pulseMs'], value: 18, why: '' },
    ]);
    expect(written).toContain('// by hand');
    expect(written).toContain('"settleMs": 9 /* old */');
    expect(written).toMatch(/"shutter": \{\s*"pulseMs": 18\s*\}/);
  });
});
