import type { Clock, Undo } from '../../src/parts/clock.ts';
import type { PaperUnderHead } from '../paper/paper.ts';

/**
 * Somebody who waits for a print: once the printer has been at rest for a while and all that is printed has come out
 * beyond the edge, the strip is torn off.
 */
export const createGuest = (clock: Clock, paper: PaperUnderHead, afterUs: number) => {
  let tornAt = paper.at - paper.tearDots;
  let stop: Undo = () => {};
  return {
    moves(): void {
      stop();
    },
    rests(): void {
      stop();
      stop = clock.after(afterUs, () => {
        const edge = paper.at - paper.tearDots;
        if (paper.lastHeated < tornAt || paper.lastHeated >= edge) return;
        tornAt = edge;
        paper.mark('tear', edge, clock.nowUs());
      });
    },
  };
};
