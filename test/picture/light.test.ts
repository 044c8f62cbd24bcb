import { describe, expect, it } from 'vitest';
import { isFault } from '../../src/parts/fault.ts';
import type { Frame } from '../../src/parts/webcam.ts';
import { lumaOf, lumaOfRgba, pixelsOf } from '../../src/picture/luma.ts';
import { codedOf, linearOf, linearTable } from '../../src/picture/transfer.ts';

const frame = (given: Partial<Frame>): Frame => ({
  sequence: 1,
  exposureStartUs: 0,
  exposureEndUs: 1,
  format: 'GREY',
  widthPx: 2,
  heightPx: 1,
  strideBytes: 2,
  range: 'full',
  data: Uint8Array.of(0, 255),
  ...given,
});

describe('sRGB, IEC 61966-2-1 (values calculated from the standard’s formula)', () => {
  it.each([
    [1, 0.000304],
    [64, 0.05127],
    [118, 0.18116],
    [128, 0.21586],
    [188, 0.50289],
    [255, 1],
  ])('code %i is light %f', (code, light) => {
    expect(linearTable[code]).toBeCloseTo(light, 5);
    expect(codedOf(light) * 255).toBeCloseTo(code, 1);
  });
  it('half the light is code 187.5', () => expect(codedOf(0.5) * 255).toBeCloseTo(187.5, 1));
});

describe('luma, ITU-R BT.601', () => {
  it('weighs 0.299 R, 0.587 G, 0.114 B', () => {
    const data = Uint8Array.of(255, 0, 0, 255, 0, 255, 0, 255, 0, 0, 255, 255, 255, 255, 255, 255);
    expect([...lumaOfRgba(4, 1, data).data]).toEqual([76, 150, 29, 255]);
  });
  it('limited range: 16 is black, 235 white, 128 is 130.4', () => {
    const { light } = pixelsOf(frame({ range: 'limited' }));
    expect([light[0], light[16], light[235], light[255]]).toEqual([0, 0, 1, 1]);
    expect(light[128]).toBeCloseTo(linearOf(130.4 / 255), 3);
    expect([...lumaOf(frame({ range: 'limited', data: Uint8Array.of(16, 128) })).data]).toEqual([0, 130]);
  });
  it('takes Y out of Y0 Cb Y1 Cr, past the end of each row', () => {
    const data = Uint8Array.of(10, 128, 20, 128, 99, 99, 30, 128, 40, 128, 99, 99);
    const luma = lumaOf(frame({ format: 'YUYV', heightPx: 2, strideBytes: 6, data }));
    expect([...luma.data]).toEqual([10, 20, 30, 40]);
  });
  it('a stride of 0 is a tight one', () => {
    expect([...lumaOf(frame({ strideBytes: 0, data: Uint8Array.of(1, 2) })).data]).toEqual([1, 2]);
  });
  it.each([
    ['GREY', 1],
    ['YUYV', 3],
  ] as const)('a %s frame cut short is a Fault that says so', (format, length) => {
    try {
      pixelsOf(frame({ format, strideBytes: 0, data: new Uint8Array(length) }));
      expect.unreachable();
    } catch (error) {
      expect(isFault(error) && error.message).toMatch(new RegExp(`${format} frame of 2 × 1 came with ${length} bytes`));
    }
  });
});
