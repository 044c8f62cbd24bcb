import { createServer, type IncomingMessage, type ServerResponse } from 'node:http';
import { Fault } from '../../src/parts/fault.ts';
import { faults } from '../faults.ts';
import { type LiveDesk, type Mishap, mishaps } from './desk.ts';
import { livePage } from './page.ts';

export interface LiveServer {
  url: string;
  /** Tells every page what has happened. */
  send(): void;
  close(): void;
}

/** What a page is told first. */
interface Hello {
  title: string;
  widthDots: number;
  strideBytes: number;
  tearDots: number;
  dotsPerMm: number;
  look: { widthPx: number; heightPx: number };
  mishaps: { name: Mishap; key: string; what: string }[];
}

const look = { widthPx: 112, heightPx: 84 };
/** The view through the lens is sent every so many times. */
const lookEvery = 6;
const longestOrder = 1000;

/** What a page may ask for. */
const obey = (desk: LiveDesk, order: unknown): boolean => {
  const { act, name } = (order ?? {}) as { act?: unknown; name?: unknown };
  if (act === 'down' || act === 'up') desk.button(act === 'down');
  else if (act === 'tear') desk.tear();
  else if (act === 'roll') desk.newRoll();
  else if (act === 'toggle' && mishaps.some(mishap => mishap.name === name)) desk.toggle(name as Mishap);
  else return false;
  return true;
};

/**
 * The desk's page, for this machine's own browser: it listens on the loopback address alone, answers to no other name,
 * and takes orders from its own page only, so that no foreign page can reach it through the browser.
 */
export const serveDesk = (desk: LiveDesk, title: string, port: number): Promise<LiveServer> => {
  const { paper } = desk;
  const hello: Hello = {
    title,
    widthDots: paper.widthDots,
    strideBytes: paper.strideBytes,
    tearDots: paper.tearDots,
    dotsPerMm: paper.dotsPerMm,
    look,
    mishaps: mishaps.map(({ name, key }) => ({ name, key, what: faults[name].what })),
  };
  const readers = new Map<ServerResponse, ReturnType<LiveDesk['reader']>>();
  const write = (to: ServerResponse, event: string, data: unknown) =>
    to.write(`event: ${event}\ndata: ${JSON.stringify(data)}\n\n`);
  let ownHosts: string[] = [];

  const stream = (request: IncomingMessage, response: ServerResponse) => {
    response.writeHead(200, { 'content-type': 'text/event-stream', 'cache-control': 'no-store' });
    write(response, 'hello', hello);
    readers.set(response, desk.reader());
    request.on('close', () => readers.delete(response));
  };
  const order = (request: IncomingMessage, response: ServerResponse) => {
    let body = '';
    request.on('data', chunk => {
      body += chunk;
      if (body.length > longestOrder) request.destroy();
    });
    request.on('end', () => {
      let done = false;
      try {
        done = obey(desk, JSON.parse(body));
      } catch (error) {
        if (!(error instanceof SyntaxError)) throw error;
      }
      response.writeHead(done ? 204 : 400).end();
    });
  };
  const server = createServer((request, response) => {
    const { host = '', origin } = request.headers;
    const foreign =
      !ownHosts.includes(host) || (origin !== undefined && !ownHosts.includes(origin.slice('http://'.length)));
    if (foreign) response.writeHead(403).end('this page is for this machine only\n');
    else if (request.method === 'GET' && request.url === '/') {
      response.writeHead(200, {
        'content-type': 'text/html; charset=utf-8',
        'cache-control': 'no-store',
        'content-security-policy':
          "default-src 'none'; connect-src 'self'; style-src 'unsafe-inline'; script-src 'unsafe-inline'; img-src data:; frame-ancestors 'none'",
      });
      response.end(livePage(title, desk.hold));
    } else if (request.method === 'GET' && request.url === '/stream') stream(request, response);
    else if (
      request.method === 'POST' &&
      request.url === '/do' &&
      request.headers['content-type'] === 'application/json'
    )
      order(request, response);
    else response.writeHead(404).end('there is nothing here\n');
  });

  let sends = 0;
  return new Promise((resolve, reject) => {
    server.once('error', (error: NodeJS.ErrnoException) => {
      const busy = error.code === 'EADDRINUSE';
      reject(
        new Fault(
          busy ? 'part-busy' : 'part-failed',
          busy ? `port ${port} is taken` : `port ${port}: ${error.message}`,
          'give another one by --port, or 0 for any that is free',
          { cause: error },
        ),
      );
    });
    server.listen(port, '127.0.0.1', () => {
      const address = server.address();
      const actual = typeof address === 'object' && address ? address.port : port;
      ownHosts = [`127.0.0.1:${actual}`, `localhost:${actual}`];
      resolve({
        url: `http://127.0.0.1:${actual}/`,
        send() {
          if (readers.size === 0) return;
          const standing = desk.standing();
          for (const [to, read] of readers) {
            const { samples, log, paper: come, tears } = read();
            const rows = come.to > come.from ? Buffer.from(paper.dots(come.from, come.to).data).toString('base64') : '';
            write(to, 'news', { standing, samples, log, from: come.from, to: come.to, rows, tears });
          }
          if (sends++ % lookEvery !== 0) return;
          const seen = Buffer.from(desk.look(look.widthPx, look.heightPx)).toString('base64');
          for (const to of readers.keys()) write(to, 'look', seen);
        },
        close() {
          for (const to of readers.keys()) to.end();
          server.close();
          server.closeAllConnections();
        },
      });
    });
  });
};
