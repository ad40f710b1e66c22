/** A disk that cannot be read for a moment, just when a run starts: the line is still watched, and the record counts as failing. */
import { afterEach, expect, it } from 'vitest';
import { type WatchedLine, watchLine } from '../monitor/watched-line.ts';

let line: WatchedLine | undefined;
afterEach(() => line?.remove());

it.each(['runSettings', 'runDate'] as const)('if %s cannot be read', async (what) => {
  const watched = watchLine({}, { timing: 'live' });
  line = watched;
  const { reader } = watched.store;
  const read = reader[what];
  Object.assign(reader, {
    [what]: () => {
      throw new Error('disk I/O error');
    },
  });
  for (let i = 0; i < 300; i++) watched.feed(`ms=${i * 100} d=1.75 v=20\n`);
  const failed = expect.stringMatching(/^Cannot write the (clock|settings) of the run: disk I\/O error$/);
  await expect.poll(() => watched.logged, { timeout: 3000 }).toContainEqual(failed);
  Object.assign(reader, { [what]: read });
  expect(watched.monitor.snapshot().run?.id).toBe(1);
  await expect.poll(() => watched.monitor.snapshot().recordTrouble, { timeout: 5000 }).toBe(null);
  expect(reader.runSettings(1)).toHaveLength(1);
});
