import { existsSync, mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import type { Browser, Page } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { drawStrip } from '../../../sim/paper/draw.ts';
import { reportPage } from '../../../sim/report/page.ts';
import { reportStrip } from '../../../sim/report/strip.ts';
import { handmadeParty } from './fixture.ts';

const chromium = '/usr/bin/chromium';
const missing = existsSync(chromium) ? '' : ` (skipped: ${chromium} isn't installed)`;

const party = handmadeParty();
const drawn = drawStrip(party.printer.paper, 3, 1);
const strip = reportStrip(party.printer.paper, drawn, party.log, 'strip.png');
const html = reportPage({
  title: 'Three <pictures> & a roll',
  traces: party.traces,
  log: [...party.log, { level: 50, mono: 1, event: 'part-fault', part: 'webcam', why: '</script><b>"odd"</b>' }],
  strip,
  recordingName: 'recording.ndjson',
});

describe('the report page as text', () => {
  it('asks nothing of a network', () => {
    expect(html).not.toMatch(/https?:/);
    expect(html).not.toMatch(/<link[^>]+href="(?!data:)/);
  });

  it('keeps what is in the log from becoming markup', () => {
    expect(html.match(/<\/script>/g)).toHaveLength(2);
    expect(html).toContain('<title>Three &#60;pictures&#62; &#38; a roll</title>');
  });

  it('finds each picture on the strip by the log', () => {
    // The second one was cut by the end of the roll and went on under the next.
    expect(strip.pictures.map(({ shot }) => shot)).toEqual([1, 2, 2, 3]);
    for (const { atUs, untilUs, heightPx } of strip.pictures) {
      expect(untilUs).toBeGreaterThan(atUs);
      expect(heightPx).toBeGreaterThan(100);
    }
  });

  it('keeps warnings and the end of a log that is too long for a browser', () => {
    const lines = Array.from({ length: 20_000 }, (_, i) => ({ level: i === 7 ? 40 : 30, mono: i, event: 'gesture' }));
    const page = reportPage({ title: 'long', traces: party.traces, log: lines, strip: null, recordingName: 'r' });
    const { log } = JSON.parse(/id="data">(.*?)<\/script>/s.exec(page)?.[1] ?? '');
    expect(log).toHaveLength(6000);
    expect(log[0]).toMatchObject({ atUs: 7, level: 'warn' });
    expect(log.at(-1).atUs).toBe(19_999);
    expect(page).toContain('14000 earlier lines');
  });
});

describe.skipIf(missing !== '')(`the report page in a browser${missing}`, () => {
  const folder = mkdtempSync(join(tmpdir(), 'slip-report-'));
  const troubles: string[] = [];
  const asked: string[] = [];
  let browser: Browser;
  let page: Page;
  const view = async () => {
    // Drawing waits for the next frame.
    await page.evaluate('new Promise(done => requestAnimationFrame(() => requestAnimationFrame(done)))');
    const { from, to, cursor, shot } = await page.locator('#traces').evaluate(canvas => ({ ...canvas.dataset }));
    return { fromUs: Number(from), toUs: Number(to), cursorUs: cursor === '' ? null : Number(cursor), shot };
  };

  beforeAll(async () => {
    writeFileSync(join(folder, 'strip.png'), drawn.png());
    writeFileSync(join(folder, 'index.html'), html);
    const { chromium: engine } = await import('playwright-core');
    const args = ['--headless', '--no-sandbox', '--disable-gpu', '--no-first-run', '--disable-background-networking'];
    browser = await engine.launch({ executablePath: chromium, args });
    page = await browser.newPage({ viewport: { width: 1300, height: 1000 } });
    page.on('console', message => void (message.type() === 'error' && troubles.push(message.text())));
    page.on('pageerror', error => void troubles.push(error.message));
    page.on('request', request => void asked.push(request.url()));
    await page.goto(`file://${folder}/index.html`);
  });
  afterAll(async () => {
    await browser?.close();
    rmSync(folder, { recursive: true });
  });

  it('opens without a fault and asks for nothing but its own files', async () => {
    await view();
    expect(troubles).toEqual([]);
    expect(asked.filter(url => !url.startsWith(`file://${folder}/`) && !url.startsWith('data:'))).toEqual([]);
    expect(
      await page.locator('#sheet img').evaluate(img => (img as unknown as { naturalWidth: number }).naturalWidth),
    ).toBe(drawn.widthPx);
  });

  it('zooms by wheel about the pointer, by keys and by buttons, and shows all again', async () => {
    const canvas = page.locator('#traces');
    await canvas.scrollIntoViewIfNeeded();
    const whole = await view();
    const box = (await canvas.boundingBox())!;
    const px = box.width / 2;
    const under = ({ fromUs, toUs }: typeof whole) => fromUs + ((px - 104) / (box.width - 112)) * (toUs - fromUs);
    await page.mouse.move(box.x + px, box.y + 100);
    await page.mouse.wheel(0, -300);
    const near = await view();
    expect(near.toUs - near.fromUs).toBeLessThan((whole.toUs - whole.fromUs) / 2);
    expect(Math.abs(under(near) - under(whole))).toBeLessThan((whole.toUs - whole.fromUs) / 200);
    await canvas.focus();
    await page.keyboard.press('+');
    const nearer = await view();
    expect(nearer.toUs - nearer.fromUs).toBeLessThan((near.toUs - near.fromUs) * 0.6);
    await page.keyboard.press('ArrowRight');
    expect((await view()).fromUs).toBeGreaterThan(nearer.fromUs);
    await page.getByRole('button', { name: 'Wider' }).click();
    await page.getByRole('button', { name: 'All' }).click();
    expect(await view()).toMatchObject({ fromUs: whole.fromUs, toUs: whole.toUs });
  });

  it('moves with the hand that drags', async () => {
    const canvas = page.locator('#traces');
    await canvas.press('+');
    const before = await view();
    const box = (await canvas.boundingBox())!;
    await page.mouse.move(box.x + 600, box.y + 60);
    await page.mouse.down();
    await page.mouse.move(box.x + 400, box.y + 60, { steps: 4 });
    await page.mouse.up();
    const after = await view();
    expect(after.fromUs - before.fromUs).toBeGreaterThan((before.toUs - before.fromUs) * 0.1);
  });

  it('leads from a picture to its traces and its log lines', async () => {
    await page.getByRole('button', { name: 'Picture 3:' }).click();
    const { fromUs, toUs, shot } = await view();
    const third = strip.pictures.at(-1)!;
    const press = party.log.find(line => line.event === 'press' && line.shot === 3)!;
    expect(shot).toBe('3');
    expect(fromUs).toBeLessThan(press.mono!);
    expect(fromUs).toBeGreaterThan(press.mono! - 1e6);
    expect(toUs).toBeGreaterThan(third.untilUs);
    expect(await page.locator('tr[aria-selected=true]').textContent()).toContain('press');
    await page.locator('#traces').press('b');
    expect((await view()).shot).toBe('2');
  });

  it('leads from a log line to its moment, and from a moment to its log line', async () => {
    const waiting = party.log.find(line => line.event === 'waiting')!;
    await page.locator('tbody tr', { hasText: 'waiting' }).click();
    const there = await view();
    expect(there.cursorUs).toBe(waiting.mono);
    expect(there.fromUs).toBeLessThanOrEqual(waiting.mono!);
    expect(there.toUs).toBeGreaterThanOrEqual(waiting.mono!);
    await page.getByRole('button', { name: 'All' }).click();
    const canvas = page.locator('#traces');
    const box = (await canvas.boundingBox())!;
    const ready = party.log.find(line => line.event === 'ready')!;
    const all = await view();
    const px = 104 + (ready.mono! / (all.toUs - all.fromUs)) * (box.width - 112);
    await canvas.click({ position: { x: px, y: 80 } });
    expect(Math.abs((await view()).cursorUs! - ready.mono!)).toBeLessThan(50_000);
    expect(await page.locator('tr[aria-selected=true] td').nth(1).textContent()).toMatch(/ready|press/);
    expect(await page.locator('#reading').textContent()).toMatch(/s: .*(exposure|lamp says)/);
  });

  it('shows only what is asked for in the log', async () => {
    await page.locator('#level').selectOption('loud');
    expect(await page.locator('tbody tr:visible').allTextContents()).toHaveLength(2);
    await page.locator('#level').selectOption('');
    await page.locator('#words').fill('picturesLeft');
    expect(await page.locator('tbody tr:visible').count()).toBe(3);
    await page.locator('#words').fill('');
  });

  it('walks through faults', async () => {
    await page.getByRole('button', { name: 'Next fault' }).click();
    const marks = party.traces.of('fault').map(({ atUs }) => atUs);
    expect(marks).toContain((await view()).cursorUs);
  });

  it('follows light and dark, with readable text in both', async () => {
    const luminance = (css: string) => {
      const [r, g, b] = css.match(/\d+/g)!.map(n => {
        const c = Number(n) / 255;
        return c <= 0.04045 ? c / 12.92 : ((c + 0.055) / 1.055) ** 2.4;
      });
      return 0.2126 * r + 0.7152 * g + 0.0722 * b;
    };
    for (const colorScheme of ['light', 'dark'] as const) {
      await page.emulateMedia({ colorScheme });
      const [ground, ...texts] = await page.evaluate(() => {
        const paint = globalThis as unknown as {
          document: { querySelector(s: string): unknown; body: unknown };
          getComputedStyle(e: unknown): { color: string; backgroundColor: string };
        };
        const of = (s: string) => paint.getComputedStyle(paint.document.querySelector(s)).color;
        return [
          paint.getComputedStyle(paint.document.body).backgroundColor,
          of('h1'),
          of('.keys'),
          of('tr.warn td:nth-child(2)'),
        ];
      });
      for (const text of texts) {
        const [a, b] = [luminance(text), luminance(ground)].sort((x, y) => y - x);
        // WCAG 2.2, success criterion 1.4.3: at least 4.5 to 1.
        expect((a + 0.05) / (b + 0.05)).toBeGreaterThanOrEqual(4.5);
      }
    }
    expect(troubles).toEqual([]);
  });
});
