import { existsSync } from 'node:fs';
import { request } from 'node:http';
import type { Browser, Page } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import type { LiveDesk } from '../../../sim/live/desk.ts';
import { type LiveServer, serveDesk } from '../../../sim/live/server.ts';
import { quickDesk, until } from './fixture.ts';

const chromium = '/usr/bin/chromium';
const missing = existsSync(chromium) ? '' : ` (skipped: ${chromium} isn't installed)`;

/** One request with headers as a browser on another page could send them, too. */
const ask = (url: string, method: string, headers: Record<string, string> = {}, body = '') =>
  new Promise<{ status: number; text: string; headers: NodeJS.Dict<string | string[]> }>((resolve, reject) => {
    const call = request(url, { method, headers }, answer => {
      let text = '';
      answer.on('data', chunk => {
        text += chunk;
      });
      answer.on('end', () => resolve({ status: answer.statusCode ?? 0, text, headers: answer.headers }));
    });
    call.on('error', reject);
    call.end(body);
  });
const json = { 'content-type': 'application/json' };

describe('the desk’s server', () => {
  let desk: LiveDesk;
  let server: LiveServer;
  beforeAll(async () => {
    desk = quickDesk();
    server = await serveDesk(desk, 'A <desk>', 0);
  });
  afterAll(() => server.close());

  it('gives its page, which may load nothing from elsewhere', async () => {
    const { status, text, headers } = await ask(server.url, 'GET');
    expect(status).toBe(200);
    expect(text).toContain('<title>A &#60;desk&#62;</title>');
    expect(text).not.toMatch(/https?:\/\//);
    expect(headers['content-security-policy']).toContain("default-src 'none'");
  });

  it('listens on the loopback address only', () => {
    expect(new URL(server.url).hostname).toBe('127.0.0.1');
  });

  it('answers neither to another name nor to another page', async () => {
    expect((await ask(server.url, 'GET', { host: 'printer.example' })).status).toBe(403);
    const foreign = { ...json, origin: 'http://printer.example' };
    expect((await ask(`${server.url}do`, 'POST', foreign, '{"act":"tear"}')).status).toBe(403);
    // What a foreign form could send without asking first.
    expect((await ask(`${server.url}do`, 'POST', { 'content-type': 'text/plain' }, '{"act":"tear"}')).status).toBe(404);
    expect(desk.paper.marks).toEqual([]);
  });

  it('obeys orders, and refuses what it doesn’t know', async () => {
    const order = async (body: string) => (await ask(`${server.url}do`, 'POST', json, body)).status;
    expect(await order('{"act":"toggle","name":"lid-open"}')).toBe(204);
    expect(desk.standing().wrong).toEqual(['lid-open']);
    expect(await order('{"act":"toggle","name":"lid-open"}')).toBe(204);
    expect(await order('{"act":"down"}')).toBe(204);
    expect(desk.standing().button).toBe(true);
    expect(await order('{"act":"up"}')).toBe(204);
    expect(await order('{"act":"roll"}')).toBe(204);
    for (const bad of ['', '{', '[]', 'null', '{"act":"toggle","name":"__proto__"}', '{"act":"constructor"}', '7'])
      expect(await order(bad)).toBe(400);
    await expect(order(`{"act":"${'x'.repeat(70_000)}"}`)).rejects.toThrow();
    expect((await ask(`${server.url}etc/passwd`, 'GET')).status).toBe(404);
  });

  it('says plainly when its port is taken', async () => {
    await expect(serveDesk(desk, 'again', Number(new URL(server.url).port))).rejects.toMatchObject({
      code: 'part-busy',
      message: expect.stringContaining('is taken'),
      mend: expect.stringContaining('--port'),
    });
  });
});

describe.skipIf(missing !== '')(`the live page in a browser${missing}`, () => {
  const troubles: string[] = [];
  let desk: LiveDesk;
  let server: LiveServer;
  let browser: Browser;
  let page: Page;
  const dataOf = (name: string) => page.locator('body').evaluate((body, key) => body.dataset[key], name);
  /** Life goes on by hand: then the page is told, and is waited for. */
  const live = async (us: number) => {
    for (let done = 0; done < us; done += 25_000) {
      desk.advance(25_000);
      server.send();
    }
    await expect.poll(() => dataOf('at')).toBe(String(desk.standing().atUs));
  };

  beforeAll(async () => {
    desk = quickDesk();
    server = await serveDesk(desk, 'desk', 0);
    const { chromium: engine } = await import('playwright-core');
    const args = ['--headless', '--no-sandbox', '--disable-gpu', '--no-first-run', '--disable-background-networking'];
    browser = await engine.launch({ executablePath: chromium, args });
    page = await browser.newPage({ viewport: { width: 1200, height: 900 } });
    page.on('console', message => void (message.type() === 'error' && troubles.push(message.text())));
    page.on('pageerror', error => void troubles.push(error.message));
    await page.goto(server.url);
    await page.locator('#mishaps button').first().waitFor();
  });
  afterAll(async () => {
    await browser?.close();
    server?.close();
  });

  it('presses as long as the space bar is down', async () => {
    await page.keyboard.down(' ');
    await expect.poll(() => desk.standing().button).toBe(true);
    await live(100_000);
    expect(await page.locator('#release').getAttribute('class')).toBe('down');
    await page.keyboard.up(' ');
    await expect.poll(() => desk.standing().button).toBe(false);
    await live(200_000);
    expect(await page.locator('#log').textContent()).toMatch(/press {2}shot 1/);
  });

  it('shows the paper as it comes out, dot for dot', async () => {
    until(desk, () => desk.standing().states?.output === 'idle');
    await live(50_000);
    const { at, strideBytes } = desk.paper;
    const [picture] = desk.paper.pictures();
    // The canvas ends at the line under the head; its last rows are compared with the paper's.
    const rows = 250;
    const black = (await page.locator('#paper').evaluate((canvas, count) => {
      const paper = canvas as unknown as {
        width: number;
        height: number;
        getContext(kind: string): { getImageData(...of: number[]): { data: number[] } };
      };
      const { data } = paper.getContext('2d').getImageData(0, paper.height - count, paper.width, count);
      return Array.from({ length: paper.width * count }, (_, i) =>
        data[i * 4 + 3] > 0 && data[i * 4] < 128 ? 1 : 0,
      ).join('');
    }, rows)) as string;
    const { data } = desk.paper.dots(at - rows, at);
    let expected = '';
    for (let y = 0; y < rows; y++)
      for (let x = 0; x < 384; x++) expected += (data[y * strideBytes + (x >> 3)] >> (7 - (x & 7))) & 1;
    expect(picture.to).toBeGreaterThan(at - rows);
    expect(expected).toContain('1');
    expect(black === expected).toBe(true);
  });

  it('tears the strip off into the tray', async () => {
    await page.keyboard.press('t');
    await expect.poll(() => desk.paper.marks.length).toBe(1);
    await live(25_000);
    expect(await page.locator('#tray canvas').count()).toBe(1);
    await page.locator('#tray button').click();
    expect(await page.locator('#tray canvas').evaluate(canvas => (canvas as unknown as { width: number }).width)).toBe(
      384,
    );
  });

  it('harms and heals by buttons and keys, and shows what the lamp says', async () => {
    const lid = page.getByRole('button', { name: 'the lid stands open' });
    await lid.click();
    await expect.poll(() => desk.standing().wrong).toEqual(['lid-open']);
    until(desk, () => desk.standing().pattern === 'lid-open');
    await live(25_000);
    expect(await lid.getAttribute('aria-pressed')).toBe('true');
    expect(await page.locator('#tells').textContent()).toContain('the lid is open');
    await page.keyboard.press('l');
    await expect.poll(() => desk.standing().wrong).toEqual([]);
    await live(25_000);
    expect(await lid.getAttribute('aria-pressed')).toBe('false');
  });

  it('says when the desk is gone, and has no fault of its own', async () => {
    expect(troubles).toEqual([]);
    server.close();
    await page.getByText('the desk doesn’t answer').waitFor();
  });
});
