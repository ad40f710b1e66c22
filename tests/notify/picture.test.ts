import { describe, expect, it } from 'vitest';
import { readTrace } from '../../server/notify/picture/read-trace.ts';
import { type Trace, tracePicture } from '../../server/notify/picture/trace-picture.ts';
import { woundFromLines } from '../api/test-service.ts';
import { decodePng } from './decode-png.ts';

const LIMITS = { nominalMm: 1.75, toleranceMm: 0.05, hotendLimitMm: 1.9, leastFeedableMm: 1.6 };

function traceWithBlob(): Trace {
  const positionMm = Float64Array.from({ length: 1000 }, (_, i) => 41_000 + i / 2);
  const diameterMm = positionMm.map((mm) => (mm >= 41_250 && mm < 41_251 ? 2.1 : 1.75));
  const section = { fromMm: 41_249, toMm: 41_252 };
  return { fromSpoolMm: 41_000, toSpoolMm: 41_500, positionMm, diameterMm, section, limits: LIMITS };
}

describe('the picture of the strand around a blob', () => {
  it('shows a peak of two readings at its place and at its height, and says in words what it shows', () => {
    const picture = tracePicture(traceWithBlob())!;
    expect(picture.words).toBe(
      'Diameter from 41.00 m to 41.50 m of the spool: 1.75 to 2.10 mm, nominal 1.75 mm, hotend limit 1.9 mm.',
    );
    const { width, height, colourAt } = decodePng(picture.png);
    expect([width, height]).toEqual([640, 260]);
    // The rightmost and leftmost column that is red well above the limit's dashes.
    const red: number[] = [];
    for (let x = 84; x < 626; x++) if (colourAt(x, 40) === 'c4161c') red.push(x);
    const middle = (red[0]! + red.at(-1)!) / 2;
    expect(red.length).toBeGreaterThanOrEqual(1);
    expect(Math.abs(middle - (84 + (626 - 84) / 2))).toBeLessThan(4);
    // Small enough for a message.
    expect(picture.png.length).toBeLessThan(8000);
  });

  it('leaves a gap where nothing was measured, and is none where nothing was at all', () => {
    const trace = traceWithBlob();
    trace.diameterMm.fill(Number.NaN, 100, 300);
    const { colourAt } = decodePng(tracePicture(trace)!.png);
    const inked = (x: number) => Array.from({ length: 200 }, (_, y) => colourAt(x, y + 16)).includes('16201e');
    expect([inked(100), inked(190), inked(300)]).toEqual([true, false, true]);
    trace.diameterMm.fill(Number.NaN);
    expect(tracePicture(trace)).toBeNull();
  });

  it('is made of the readings that the record has around that place', async () => {
    const lines = Array.from(
      { length: 1500 },
      (_, i) =>
        `ms=${i * 20} n=${i} d=${i >= 1000 && i < 1005 ? '2.050' : (1.75 + (i % 7) * 0.001).toFixed(3)} v=100 len=${i * 2}`,
    );
    const service = await woundFromLines(lines);
    try {
      const { reader, columns } = service.store;
      const parts = { reader, samples: columns, limits: () => LIMITS };
      const run = reader.runs()[0]!;
      const [spool] = reader.spools(run.id);
      const of = { runId: run.id, spoolOrdinal: spool!.ordinal, fromMm: 2000 - spool!.startGaugeMm, lengthMm: 10 };
      const trace = (await readTrace(of, parts))!;
      expect([trace.fromSpoolMm, trace.toSpoolMm]).toEqual([of.fromMm - 250, of.fromMm + 260]);
      expect(trace.section).toEqual({ fromMm: of.fromMm, toMm: of.fromMm + 10 });
      expect(Math.max(...trace.diameterMm)).toBe(2.05);
      expect(trace.positionMm[trace.diameterMm.indexOf(2.05)]! + spool!.startGaugeMm).toBeCloseTo(2000, 0);
      expect(tracePicture(trace)!.words).toMatch(/to 2\.05 mm/);
      expect(await readTrace({ ...of, spoolOrdinal: 9 }, parts)).toBeNull();
    } finally {
      await service.stop();
    }
  });
});
