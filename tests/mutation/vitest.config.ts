import { defineConfig } from 'vitest/config';

/** The tests of the pure rooms: fast enough to run again for every mistake made on purpose. */
export default defineConfig({
  test: {
    root: new URL('../..', import.meta.url).pathname,
    setupFiles: ['tests/repeatable-chance.ts', 'tests/mutation/first-failure.ts'],
    include: [
      'tests/{alarm,entities,escalation,heat,nights,preparation,problem,proposal,reading,reference,stage,stock,strand}/**/*.test.ts',
      'tests/door/other-sketches.test.ts',
    ],
    // It asks git, which does not know the copy of the project that has the mistakes built in.
    exclude: ['tests/problem/handbook.test.ts'],
    // Code with all mistakes built in, each behind a switch, is several times slower.
    testTimeout: 900_000,
    isolate: false,
  },
});
