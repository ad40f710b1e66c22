import { setFlagsFromString } from 'node:v8';
import { runInNewContext } from 'node:vm';
import { afterEach, describe, expect, it } from 'vitest';
import type { SampleColumnsReader } from '../../server/monitor/ports/samples.ts';
import type { Store } from '../../server/store/index.ts';
import { IS_LONG_CHECK } from '../long-check.ts';
import { until } from '../service/running-service.ts';
import { ClockAhead, type WatchedLine, watchLine } from './watched-line.ts';

let line: WatchedLine;
let clock: ClockAhead;
let lines = 0;
afterEach(() => line.remove());

function watch(columnsOf?: (store: Store) => SampleColumnsReader, stopAfterMin = 600): void {
  clock = new ClockAhead();
  lines = 0;
  const live = { timing: 'live', resumable: true } as const;
  line = watchLine({ settleLengthMm: 1000, stopAfterMin }, live, clock, columnsOf);
}

/** One reading per millimetre, at 20 mm/s and 20 readings per second. */
function feed(count: number, diameterMm: (atMm: number) => number): void {
  for (let i = 0; i < count; i++) {
    lines += 1;
    line.feed(`ms=${lines * 50} n=${lines} d=${diameterMm(lines).toFixed(3)} v=20 len=${lines}\n`);
  }
}

/** Restarts the service within a second, while the strand continues. */
async function restart(): Promise<void> {
  clock.aheadMs = lines * 50 + 1000;
  await line.restart();
  lines += 20;
}

const noisy = (atMm: number) => 1.75 + 0.004 * Math.sin(atMm * 12.9898);
const sentences = () => line.monitor.alarms.standing().map(({ sentence }) => sentence);

describe('a run resumed after a restart', () => {
  it('reports an open blob with its last size, not its size when the alarm was raised', async () => {
    watch();
    feed(5000, noisy);
    expect(line.monitor.snapshot().stage.stage).toBe('winding');
    for (const diameterMm of [1.85, 1.92, 1.98, 2.05, 2.11]) feed(1, () => diameterMm);
    expect(sentences()).toEqual([expect.stringContaining('Blob of 2.11 mm')]);
    await restart();
    expect(sentences()).toEqual([expect.stringContaining('Blob of 2.11 mm')]);
    feed(3, () => 2.2);
    expect(sentences()).toEqual([expect.stringMatching(/^2 blobs, the latest at .* It is the worst, 2\.20 mm\./)]);
    // Strand that passed during the restart is not measured.
    const kinds = line.monitor.snapshot().sections.map(({ kind }) => kind);
    expect(kinds).toEqual(['blob', 'unknown', 'blob']);
  });

  it.each([
    ['goes on if the line wound on for the half hour in which the service was off', true],
    ['ends as usual if the line was off too', false],
  ])('%s, longer than a standstill that ends a run', async (_, windsOn) => {
    watch(undefined, 10);
    feed(5000, noisy);
    const { run, spool } = line.monitor.snapshot();
    expect(spool).not.toBeNull();
    clock.aheadMs = lines * 50 + 1_800_000;
    await line.restart();
    expect(line.monitor.snapshot().run).toMatchObject({ id: run!.id });
    if (windsOn) {
      lines += 36_000;
      feed(2000, noisy);
      const now = line.monitor.snapshot();
      expect([now.run?.id, now.spool?.id, now.stage.stage]).toStrictEqual([run!.id, spool!.id, 'winding']);
      expect(now.sections).toMatchObject([{ kind: 'unknown' }]);
      expect(now.sections[0]!.toMm - now.sections[0]!.fromMm).toBeGreaterThan(35_000);
    } else {
      clock.aheadMs += 660_000;
      await expect.poll(() => line.monitor.snapshot().run).toBeNull();
      expect(line.store.reader.run(run!.id)!.endedMs! - run!.startedMs).toBeLessThan(300_000);
    }
  });

  it('continues trends and mean diameter', async () => {
    let farthestMm = 0;
    watch((store) => ({
      ...store.columns,
      readings: (runId, fromMm, toMm, signals) => {
        farthestMm = Math.max(farthestMm, toMm);
        return store.columns.readings(runId, fromMm, toMm, signals);
      },
    }));
    feed(5000, noisy);
    const surging = (atMm: number) => noisy(atMm) + 0.03 * Math.sin((2 * Math.PI * atMm) / 250);
    feed(20_000, surging);
    const before = line.monitor.snapshot();
    expect(before.trends).toMatchObject([{ kind: 'surging', open: true }]);
    await restart();
    // Readings are taken at once, while earlier ones are still being read.
    feed(6000, surging);
    const after = await until(
      async () => line.monitor.snapshot(),
      ({ trends }) => trends.length > 0,
      'the trends to be read',
    );
    const [earlier] = before.trends;
    const [later] = after.trends;
    expect(later).toMatchObject({ kind: 'surging', open: true, fromMm: earlier?.fromMm });
    expect(later?.toMm).toBeGreaterThan(earlier?.toMm ?? Number.POSITIVE_INFINITY);
    expect(after.meanDiameterMm).toBeGreaterThan(1.7499);
    expect(after.meanDiameterMm).toBeCloseTo(before.meanDiameterMm ?? Number.NaN, 3);
    // Of those taken at once only the latest waited in memory; the others were read as well.
    expect(farthestMm).toBeGreaterThan(29_000);
  });

  it.skipIf(!IS_LONG_CHECK).each([
    ['cannot be read', () => Promise.reject(new Error('The disk does not answer.'))],
    ['take minutes to be read', () => new Promise<never>(() => {})],
  ])(
    'continues without stored readings that %s, and does not fill the memory with pending ones',
    async (_, readings) => {
      setFlagsFromString('--expose-gc');
      const collectGarbage: () => void = runInNewContext('gc');
      watch((store) => ({ ...store.columns, readings }));
      feed(5000, noisy);
      await restart();
      feed(10_000, noisy);
      collectGarbage();
      const beforeBytes = process.memoryUsage().heapUsed;
      feed(30_000, noisy);
      collectGarbage();
      const grownBytes = process.memoryUsage().heapUsed - beforeBytes;
      expect(line.monitor.snapshot().meanDiameterMm).toBeCloseTo(1.75, 3);
      // Keeping each reading would take at least a hundred bytes.
      expect(grownBytes / 30_000).toBeLessThan(50);
    },
  );
});
