import { defineConfig } from 'vitest/config';

// One board at a time, in order: they share the host's processor, and a board that is too slow is not a board.
export default defineConfig({
  test: {
    root: new URL('../..', import.meta.url).pathname,
    include: ['test/board/*.test.ts'],
    fileParallelism: false,
    testTimeout: 400_000,
    hookTimeout: 400_000,
  },
});
