import { expect, test } from 'vitest';
import { ExampleNights } from '../../server/monitor/example-nights.ts';
import type { NightSimulator } from '../../server/monitor/ports/recording.ts';
import { defaultLineSettings } from '../../server/settings/check-line-settings.ts';

const NOW_MS = Date.UTC(2026, 10, 29, 9);
const NIGHTS = ['first', 'second'].map((name, i) => ({
  name,
  startMs: NOW_MS - (2 - i) * 86_400_000,
  lot: { name: 'waste', preparation: `prepared for the ${name}`, values: {} },
  note: `note of the ${name}`,
}));

/** Example nights with a simulator of the test; `done` lists what happened to the record. */
function nightsWith(simulate: NightSimulator['simulate']) {
  const done: string[] = [];
  const state = { simulated: true, freeBytes: Number.MAX_VALUE };
  const examples = new ExampleNights({
    simulator: { nights: () => NIGHTS, simulate },
    maintenance: {
      scratchPath: () => '/nowhere/under-way',
      freeBytes: () => state.freeBytes,
      readArchive: async (file) => {
        done.push(`imported ${file}`);
        return done.length;
      },
    },
    writer: {
      log: (entry) => {
        done.push(entry.what);
        return { id: 1, ...entry };
      },
      setLot: (runId, lot) => void done.push(`${runId}: ${lot?.preparation}`),
      setRunNote: (runId, note) => void done.push(`${runId}: ${note}`),
    },
    clock: () => NOW_MS,
    log: { info: () => {}, warn: (text) => void done.push(text), error: () => {} },
    settings: defaultLineSettings,
    timeZone: 'UTC',
    isSimulated: () => state.simulated,
    changed: () => void done.push('changed'),
  });
  return { examples, done, state };
}

const made: NightSimulator['simulate'] = async (name) => [`${name}.sqlite`];
const settled = () => new Promise((resolve) => setImmediate(resolve));

test('adds each night with its material and note, and says so', async () => {
  const { examples, done } = nightsWith(made);
  examples.make();
  await expect.poll(() => done.length).toBe(10);
  expect(done).toStrictEqual([
    'imported first.sqlite',
    '1: prepared for the first',
    '1: note of the first',
    'Simulated run 1 as an example: first.',
    'changed',
    'imported second.sqlite',
    '6: prepared for the second',
    '6: note of the second',
    'Simulated run 6 as an example: second.',
    'changed',
  ]);
});

test('adds nothing to the record of a real line, also if it was chosen in the meantime', async () => {
  const real = nightsWith(made);
  real.state.simulated = false;
  real.examples.make();
  await real.examples.stop();
  expect(real.done).toStrictEqual([]);

  const changed = nightsWith(async (name) => {
    changed.state.simulated = false;
    return [`${name}.sqlite`];
  });
  changed.examples.make();
  await settled();
  await changed.examples.stop();
  expect(changed.done).toStrictEqual([]);
});

test('stops in the middle of a night, and says nothing about it', async () => {
  const { examples, done } = nightsWith(
    (_name, _settings, stop) =>
      new Promise((_, reject) => stop.addEventListener('abort', () => reject(new Error('cancelled')))),
  );
  examples.make();
  await settled();
  await examples.stop();
  expect(done).toStrictEqual([]);
});

test('logs why there are none', async () => {
  const { examples, done, state } = nightsWith(made);
  state.freeBytes = 0;
  examples.make();
  await expect.poll(() => done.length).toBe(1);
  expect(done[0]).toMatch(/^The example nights could not be made: .*space/);
});
