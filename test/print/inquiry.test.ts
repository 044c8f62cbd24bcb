import { describe, expect, it } from 'vitest';
import { createVirtualClock } from '../../sim/clock.ts';
import { createInquiry } from '../../src/print/inquiry.ts';

const asking = () => {
  const clock = createVirtualClock();
  const news: string[] = [];
  const inquiry = createInquiry(clock, true, {
    changed: () => news.push('changed'),
    fed: feeding => news.push(feeding ? 'fed' : 'let go'),
    flow: held => news.push(held ? 'stop' : 'go'),
    spoke: () => news.push('spoke'),
  });
  return { clock, news, inquiry, take: (...bytes: number[]) => inquiry.take(Uint8Array.from(bytes)) };
};

// Answers are built from the bits that command manuals give under "transmit real-time status" (read).
describe('inquiry', () => {
  it('believes the answers of one round together', () => {
    const { inquiry, news, take } = asking();
    inquiry.asked([1, 2, 3, 4]);
    take(0x1a, 0x16, 0x12);
    expect(inquiry.flags).toMatchObject({ offLine: false, lidOpen: false });
    take(0x12);
    expect(inquiry.flags).toMatchObject({ offLine: true, lidOpen: true });
    expect(news).toEqual(['changed']);
  });

  it('doesn’t give a lost answer’s question the next round’s answers', () => {
    const { inquiry, take } = asking();
    inquiry.asked([2, 3, 4]);
    // Near the end of the paper; one of three answers got lost.
    take(0x12, 0x1e);
    inquiry.asked([2, 3, 4]);
    take(0x12, 0x12, 0x1e);
    expect(inquiry.flags).toMatchObject({ nearEnd: true, lidOpen: false, feeding: false, cutter: false });
  });

  it('heeds nothing that nobody asked for', () => {
    const { inquiry, news, take } = asking();
    take(0x16, 0x7a);
    expect(news).toEqual([]);
    expect(inquiry.flags.lidOpen).toBe(false);
  });

  it('says whether all was answered, and after three times calls it silent', () => {
    const { clock, inquiry, news, take } = asking();
    const ends: boolean[] = [];
    inquiry.settled(answered => ends.push(answered));
    inquiry.asked([1, 2]);
    inquiry.settled(answered => ends.push(answered));
    take(0x12, 0x12);
    for (let i = 0; i < 3; i++) {
      expect(inquiry.silent).toBe(false);
      inquiry.asked([1]);
      inquiry.settled(answered => ends.push(answered));
      clock.runUntil(clock.nowUs() + 1e6);
    }
    expect(ends).toEqual([true, true, false, false, false]);
    expect(inquiry.silent).toBe(true);
    inquiry.asked([]);
    take(0x10, 0, 0, 0);
    expect(inquiry.silent).toBe(false);
    expect(news).toEqual(['changed', 'changed', 'spoke', 'changed']);
  });

  it('forgets who waits, and what it knew of another printer', () => {
    const { clock, inquiry, take } = asking();
    let called = false;
    inquiry.asked([2]);
    take(0x16);
    inquiry.asked([2]);
    inquiry.settled(() => {
      called = true;
    });
    inquiry.forget();
    clock.runUntil(5e6);
    expect(called).toBe(false);
    expect(inquiry.flags.lidOpen).toBe(true);
    inquiry.reset();
    expect(inquiry.flags.lidOpen).toBe(false);
  });
});
