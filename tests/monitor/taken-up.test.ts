import { setFlagsFromString } from 'node:v8';
import { runInNewContext } from 'node:vm';
import { afterEach, describe, expect, it } from 'vitest';
import type { SampleColumnsReader } from '../../server/monitor/ports/samples.ts';
import type { Store } from '../../server/store/index.ts';
import { until } from '../service/running-service.ts';
import { ClockAhead, type WatchedLine, watchLine } from './watched-line.ts';

let line: WatchedLine;
let clock: ClockAhead;
let lines = 0;
afterEach(() => line.remove());

function watch(columnsOf?: (store: Store) => SampleColumnsReader): void {
  clock = new ClockAhead();
  lines = 0;
  const live = { timing: 'live', resumable: true } as const;
  line = watchLine({ settleLengthMm: 1000, stopAfterMin: 600 }, live, clock, columnsOf);
}

/** At 20 mm/s and 20 readings a second: one reading a millimetre. */
function feed(count: number, diameterMm: (atMm: number) => number): void {
  for (let i = 0; i < count; i++) {
    lines += 1;
    line.feed(`ms=${lines * 50} n=${lines} d=${diameterMm(lines).toFixed(3)} v=20 len=${lines}\n`);
  }
}

/** The service is away for a second; the strand goes on. */
async function restart(): Promise<void> {
  clock.aheadMs = lines * 50 + 1000;
  await line.restart();
  lines += 20;
}

const trembling = (atMm: number) => 1.75 + 0.004 * Math.sin(atMm * 12.9898);
const sentences = () => line.monitor.alarms.standing().map(({ sentence }) => sentence);

describe('a run that is taken up', () => {
  it('in the middle of a blob tells at once how large it had become, not how large it was when it was raised', async () => {
    watch();
    feed(5000, trembling);
    expect(line.monitor.snapshot().stage.stage).toBe('winding');
    for (const diameterMm of [1.85, 1.92, 1.98, 2.05, 2.11]) feed(1, () => diameterMm);
    expect(sentences()).toEqual([expect.stringContaining('Blob of 2.11 mm')]);
    await restart();
    expect(sentences()).toEqual([expect.stringContaining('Blob of 2.11 mm')]);
    feed(3, () => 2.2);
    expect(sentences()).toEqual([expect.stringContaining('blob of 2.20 mm')]);
    // What passed meanwhile is told of as unknown, between what was read before and after.
    const kinds = line.monitor.snapshot().sections.map(({ kind }) => kind);
    expect(kinds).toEqual(['blob', 'unknown', 'blob']);
  });

  it('goes on with its trends and its mean diameter as if it had not been stopped', async () => {
    watch();
    feed(5000, trembling);
    const swinging = (atMm: number) => trembling(atMm) + 0.03 * Math.sin((2 * Math.PI * atMm) / 250);
    feed(20_000, swinging);
    const before = line.monitor.snapshot();
    expect(before.trends).toMatchObject([{ kind: 'surging', open: true }]);
    await restart();
    // Nothing of it delays the start: readings are taken at once.
    feed(6000, swinging);
    const after = await until(
      async () => line.monitor.snapshot(),
      ({ trends }) => trends.length > 0,
      'the trends to be read',
    );
    const [was, is] = [before.trends[0]!, after.trends[0]!];
    expect(is).toMatchObject({ kind: 'surging', open: true, fromMm: was.fromMm });
    expect(is.toMm).toBeGreaterThan(was.toMm);
    expect(after.meanDiameterMm).toBeGreaterThan(1.7499);
    expect(Math.abs(after.meanDiameterMm! - before.meanDiameterMm!)).toBeLessThan(0.0005);
  });

  it('whose stored readings cannot be read goes on without them, and in no more memory', async () => {
    setFlagsFromString('--expose-gc');
    const clear: () => void = runInNewContext('gc');
    const readings = () => Promise.reject(new Error('The disk does not answer.'));
    watch((store) => ({ ...store.columns, readings }));
    feed(5000, trembling);
    await restart();
    feed(10_000, trembling);
    clear();
    const beforeBytes = process.memoryUsage().heapUsed;
    feed(30_000, trembling);
    clear();
    const grownBytes = process.memoryUsage().heapUsed - beforeBytes;
    expect(line.monitor.snapshot().meanDiameterMm).toBeCloseTo(1.75, 3);
    // Were each reading kept, it would be a hundred bytes at least.
    expect(grownBytes / 30_000).toBeLessThan(50);
  });
});
