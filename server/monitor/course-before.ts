import { GaugeWatch } from '../strand/gauge-watch.ts';
import { canBeStrand } from '../strand/possible-diameter.ts';
import type { StrandLimits } from '../strand/strand-limits.ts';
import type { SampleColumnsReader } from './ports/samples.ts';
import { StrandCourse } from './strand-course.ts';

/** So much strand at a time: a few thousand readings, which take no longer than a millisecond or two. */
const PIECE_MM = 1000;

/**
 * The course of a spool that was being wound when the service stopped, from its stored readings. Piece by piece, with the
 * readings of now in between. @param stop true = nobody wants it any more; null is the answer then
 */
export async function courseBefore(
  columns: SampleColumnsReader,
  stretch: { readonly runId: number; readonly fromGaugeMm: number; readonly toGaugeMm: number },
  limits: StrandLimits,
  stop: () => boolean,
): Promise<StrandCourse | null> {
  const { runId, fromGaugeMm, toGaugeMm } = stretch;
  const course = new StrandCourse(limits, fromGaugeMm);
  const gauge = new GaugeWatch(limits);
  let lastTimeMs = Number.NEGATIVE_INFINITY;
  let lastGaugeMm = fromGaugeMm;
  for (let fromMm = fromGaugeMm; fromMm < toGaugeMm; fromMm += PIECE_MM) {
    const { timeMs, gaugeMm, values } = await columns.readings(runId, fromMm, Math.min(toGaugeMm, fromMm + PIECE_MM), [
      'd',
    ]);
    const diameters = values.d;
    for (let i = 0; i < timeMs.length; i++) {
      const atMs = timeMs[i]!;
      // Those on the edge of two pieces come with both.
      if (atMs <= lastTimeMs) continue;
      const placeMm = gaugeMm[i]!;
      const sentMm = diameters?.[i] ?? Number.NaN;
      const diameterMm = canBeStrand(sentMm, limits.nominalMm) ? sentMm : Number.NaN;
      gauge.step(atMs, placeMm, diameterMm, (1000 * (placeMm - lastGaugeMm)) / (atMs - lastTimeMs));
      course.step(atMs, placeMm, diameterMm, !gauge.frozen);
      lastTimeMs = atMs;
      lastGaugeMm = placeMm;
    }
    // Also where the reader answers on this thread.
    await new Promise<void>((resolve) => setImmediate(resolve));
    if (stop()) return null;
  }
  return course;
}
