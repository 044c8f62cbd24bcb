import { Fault } from '../../src/parts/fault.ts';
import { createLiveDesk, type LiveDeskOptions } from './desk.ts';
import { serveDesk } from './server.ts';
import { createLiveTerminal, type Screen } from './terminal.ts';

export interface LiveOptions extends LiveDeskOptions {
  title: string;
  /** On the loopback address; null: the usual one, or any that is free. */
  port: number | null;
}

/** What the desk is played from, beside the browser. */
export interface LiveHands {
  out(text: string): void;
  /** Null where there is no terminal: then only the page shows the desk. */
  screen: Screen | null;
  /** Calls for each key; returns what stops that. */
  keys(pressed: (text: string) => void): () => void;
  signal: AbortSignal;
}

const usualPort = 8373;
const beatMs = 25;
/** After a stretch of hard work life goes on from where it was, instead of catching up in one leap. */
const longestLeapMs = 100;
const terminalEvery = 4;

const serve = async (...[desk, title, port]: [Parameters<typeof serveDesk>[0], string, number | null]) => {
  if (port !== null) return serveDesk(desk, title, port);
  try {
    return await serveDesk(desk, title, usualPort);
  } catch (error) {
    if (error instanceof Fault && error.code === 'part-busy') return serveDesk(desk, title, 0);
    throw error;
  }
};

/** A camera to play with until the person leaves: life runs at its own pace. */
export const live = async (options: LiveOptions, hands: LiveHands): Promise<void> => {
  const desk = createLiveDesk(options);
  const server = await serve(desk, options.title, options.port);
  const terminal = hands.screen ? createLiveTerminal(desk, hands.screen, server.url) : null;
  if (!terminal) hands.out(`the desk is at ${server.url}\n`);
  let beats = 0;
  let lastMs = performance.now();
  await new Promise<void>((resolve, reject) => {
    const beat = () => {
      try {
        const nowMs = performance.now();
        desk.advance(Math.round(Math.min(longestLeapMs, nowMs - lastMs) * 1000));
        lastMs = nowMs;
        server.send();
        if (beats++ % terminalEvery === 0) terminal?.draw();
      } catch (error) {
        end();
        reject(error);
      }
    };
    const timer = setInterval(beat, beatMs);
    const stopKeys = hands.keys(text => {
      if (terminal?.key(text)) leave();
    });
    const end = () => {
      clearInterval(timer);
      stopKeys();
      terminal?.close();
      server.close();
    };
    const leave = () => {
      hands.signal.removeEventListener('abort', leave);
      end();
      resolve();
    };
    hands.signal.addEventListener('abort', leave);
    if (hands.signal.aborted) leave();
  });
};
