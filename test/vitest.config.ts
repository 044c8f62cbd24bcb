import { defineConfig } from 'vitest/config';

export default defineConfig({
  test: {
    root: new URL('..', import.meta.url).pathname,
    include: ['test/**/*.test.ts'],
    exclude: ['test/board/**', 'node_modules/**'],
    testTimeout: 60_000,
    // A browser that starts on a busy machine takes its time.
    hookTimeout: 60_000,
    coverage: {
      provider: 'v8',
      include: ['src/**/*.ts', 'sim/**/*.ts'],
      exclude: ['src/linux/**', 'src/cli/**'],
      reporter: ['text-summary', 'json-summary'],
      reportsDirectory: 'coverage',
    },
  },
});
