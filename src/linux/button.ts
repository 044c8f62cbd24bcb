import type { Button } from '../parts/button.ts';
import type { InputLine } from './gpio/lines.ts';

/** The contact on a GPIO line: raw edges with their stamps. A contact that is closed when listening begins is said first. */
export const createButton = (line: InputLine, fromMonotonicUs: (stampUs: number) => number): Button => ({
  listen(heard) {
    let last = false;
    let stopped = false;
    const hear = (down: boolean, atUs: number) => {
      if (stopped || down === last) return;
      last = down;
      heard({ kind: 'level', down, atUs });
    };
    const stop = line.listen(({ active, atMonotonicUs }) => hear(active, fromMonotonicUs(atMonotonicUs)));
    // Edges that follow are stamped later than this moment: the level now can only be older.
    setImmediate(() => {
      if (!stopped && line.read()) hear(true, fromMonotonicUs(0));
    });
    return () => {
      stopped = true;
      stop();
    };
  },
});
