import { defineConfig } from 'vitest/config';

export default defineConfig({
  test: {
    root: new URL('..', import.meta.url).pathname,
    include: ['tests/**/*.test.ts', 'tests/**/*.test.tsx'],
    testTimeout: 20_000,
    hookTimeout: 60_000,
    // A busy machine takes its time: what a test waits for is no measure of speed.
    expect: { poll: { timeout: 15_000 } },
    maxWorkers: 2,
    // Files share a process and the modules that it has loaded: a third of the processor time went into loading them again.
    isolate: false,
  },
});
