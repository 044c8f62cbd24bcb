import { describe, expect, it } from 'vitest';
import { collect } from '../../src/gather/collect.ts';
import type { Gathered } from '../../src/gather/develop.ts';

const gathered = (shot: number | null, pxPerDot: number, mark = 'SLIP'): Gathered => ({
  name: shot === null ? null : { mark, shot },
  dots: null,
  picture: { widthPx: 1, heightPx: 1, data: new Uint8Array(1) },
  corners: [],
  pxPerDot,
  contrast: 1,
});

describe('pictures from several scans', () => {
  it('keeps the best of each, and says where else it was', () => {
    const all = collect([
      { scan: 'a.png', pictures: [gathered(7, 1.5), gathered(9, 3)] },
      { scan: 'b.png', pictures: [gathered(7, 3)] },
      { scan: 'c.png', pictures: [gathered(7, 2)] },
    ]);
    expect(all.map(({ title, scan, alsoOn }) => [title, scan, alsoOn])).toEqual([
      ['SLIP-000007', 'b.png', ['a.png', 'c.png']],
      ['SLIP-000009', 'a.png', []],
    ]);
  });

  it('never merges two cameras or two pictures without a name', () => {
    const all = collect([
      { scan: 'x', pictures: [gathered(7, 1), gathered(7, 1, 'AUNT'), gathered(null, 0), gathered(null, 0)] },
    ]);
    expect(all.map(({ title }) => title)).toEqual(['AUNT-000007', 'SLIP-000007', 'unnamed-x-1', 'unnamed-x-2']);
  });

  it('keeps a scan’s name from leading out of the folder', () => {
    expect(collect([{ scan: '../../etc/pa ss', pictures: [gathered(null, 0)] }])[0].title).toBe('unnamed-pa_ss-1');
    expect(collect([{ scan: '..', pictures: [gathered(null, 0)] }])[0].title).not.toContain('..');
  });

  it('counts on where two scans bear one name', () => {
    const scans = ['a/page.png', 'b/page.png'].map(scan => ({ scan, pictures: [gathered(null, 0)] }));
    expect(collect(scans).map(({ title }) => title)).toEqual(['unnamed-page-1', 'unnamed-page-2']);
  });
});
