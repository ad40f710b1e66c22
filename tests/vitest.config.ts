import { defineConfig } from 'vitest/config';
import { coverageByRoom } from './coverage-by-room.ts';
import { IS_LONG_CHECK } from './long-check.ts';

const ROOT = new URL('..', import.meta.url).pathname;

/** These replace a module, so no other test in the same process may have loaded it before. Only before a release, too. */
const APART = ['tests/api/one-plan.test.ts'];
/** What another test shows nearly as well, and takes seconds: only before a release. */
const LONG = [
  'tests/api/many-sections.test.ts',
  'tests/api/released-port.test.ts',
  'tests/api/threads.test.ts',
  'tests/api/windows-in-duckdb.test.ts',
  'tests/browser/comparison.test.ts',
  'tests/browser/devices.test.ts',
  'tests/browser/firefox.test.ts',
  'tests/browser/heat.test.ts',
  'tests/browser/https.test.ts',
  'tests/browser/import-export.test.ts',
  'tests/browser/lines.test.ts',
  'tests/browser/people.test.ts',
  'tests/browser/spool-bounds.test.ts',
  'tests/door/first-evening.test.ts',
  'tests/faults/crowd.test.ts',
  'tests/faults/export-to-a-full-disk.test.ts',
  'tests/faults/serial-hangup.test.ts',
  'tests/faults/stopped-process.test.ts',
  'tests/mutation/sample.test.ts',
  'tests/service/alarm-answers.test.ts',
  'tests/service/export-given-up.test.ts',
  'tests/service/recording.test.ts',
];
const ALL = ['tests/**/*.test.ts', 'tests/**/*.test.tsx'];

export default defineConfig({
  test: {
    root: ROOT,
    setupFiles: ['tests/repeatable-chance.ts'],
    testTimeout: IS_LONG_CHECK ? 180_000 : 20_000,
    hookTimeout: 60_000,
    // A busy machine takes its time: what a test waits for is no measure of speed.
    expect: { poll: { timeout: 15_000 } },
    maxWorkers: 2,
    // Collecting garbage by one thread, and less often, takes less processor time than by several.
    execArgv: ['--max-semi-space-size=32', '--single-threaded-gc'],
    reporters: ['default', coverageByRoom(ROOT)],
    // Only with --coverage. Files that no test loads count as well.
    coverage: {
      include: ['{server,web,simulator}/**/*.{ts,tsx}'],
      exclude: ['**/vite.config.ts'],
      reporter: [],
      reportsDirectory: '.build/coverage',
      reportOnFailure: true,
    },
    projects: [
      // Files share a process and the modules it has loaded: a third of the processor time went into loading them again.
      {
        extends: true,
        test: {
          name: 'shared',
          include: ALL,
          exclude: ['**/node_modules/**', ...APART, ...(IS_LONG_CHECK ? [] : LONG)],
          isolate: false,
        },
      },
      ...(IS_LONG_CHECK ? [{ extends: true as const, test: { name: 'apart', include: APART } }] : []),
    ],
  },
});
