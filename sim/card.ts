import type { Scene } from './view.ts';

/** A grey wedge under a moving bar: the cheapest thing to look at, for tests and long runs. */
export const createCard = (): Scene => ({
  noise: 0,
  metered: false,
  brightness: () => 0.18,
  look(atUs, widthPx, heightPx, into) {
    const barAt = Math.floor(((atUs / 1e6) * 7) % widthPx);
    for (let y = 0; y < heightPx; y++) {
      for (let x = 0; x < widthPx; x++)
        into[y * widthPx + x] = x === barAt ? 1 : ((x + y) / (widthPx + heightPx)) ** 2.2;
    }
  },
});
