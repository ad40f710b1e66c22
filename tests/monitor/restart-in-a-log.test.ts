import { afterEach, expect, it } from 'vitest';
import { scan } from '../strand/scan.ts';
import { type WatchedLine, watchLine } from './watched-line.ts';

let line: WatchedLine | null = null;
afterEach(async () => {
  await line?.remove();
  line = null;
});

it.each([
  ['that sends its uptime', (ms: number, n: number) => `ms=${ms} n=${n}`],
  ['that only numbers its lines', (_ms: number, n: number) => `n=${n}`],
])('a restart of a device %s leaves unmeasured strand in a recorded log', async (_what, head) => {
  line = watchLine({ settleLengthMm: 1000 });
  let n = 0;
  const feed = (count: number, diameterMm: number) => {
    for (let i = 0; i < count; i++, n++) {
      line?.feed(`${head(n * 20, n)} d=${(diameterMm + 0.002 * Math.sin(n * 12.9898)).toFixed(3)} v=20\n`);
    }
  };
  feed(5000, 1.75);
  // A blob on either side of the restart, with an unknown length of strand in between.
  feed(20, 2);
  n = 0;
  feed(20, 2);
  feed(3000, 1.75);
  expect(line.monitor.snapshot().sections.map(({ kind }) => kind)).toEqual(['blob', 'unknown', 'blob']);
  // Stored readings give the same result.
  line.store.samples.flush();
  const { timeMs, gaugeMm, values } = await line.store.columns.readings(1, 0, 1e9, ['d']);
  expect(
    scan({ timeMs, gaugeMm, diameterMm: values.d ?? new Float64Array() }, line.monitor.settings).map(
      ({ kind }) => kind,
    ),
  ).toEqual(['blob', 'unknown', 'blob']);
});
