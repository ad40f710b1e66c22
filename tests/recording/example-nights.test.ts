import { expect, test } from 'vitest';
import { exampleNights } from '../../server/recording/example-nights.ts';

const HOUR_MS = 3_600_000;

test('dates the nights to three evenings that are over, whatever the time', () => {
  for (let hour = 0; hour < 24; hour++) {
    const nowMs = new Date(2026, 10, 29, hour, 30).getTime();
    const started = exampleNights(nowMs).map(({ startMs }) => startMs);
    expect(started.map((ms) => new Date(ms).getDate())).toStrictEqual([26, 27, 28]);
    expect(started.map((ms) => new Date(ms).getHours())).toStrictEqual([20, 20, 20]);
    expect(nowMs - started[2]!).toBeGreaterThan(2 * HOUR_MS);
  }
});
