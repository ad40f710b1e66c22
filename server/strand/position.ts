/**
 * Gauge length and spool position.
 *
 * The strand between the gauge and the winder has been measured but is not wound yet. When winding starts at gauge length
 * L0, the strand at the winder passed the gauge at L0 − path (conservation of length). That point is position 0 on the
 * spool, and a point with gauge length g is at position g − (L0 − path), less the strand before it that was cut out on the
 * way to the winder.
 */

/** Gauge length of the spool's innermost point, mm; below 0 where winding started before one path length was measured. */
export function spoolStartGaugeMm(gaugeAtWindingStartMm: number, gaugeToWinderMm: number): number {
  return gaugeAtWindingStartMm - gaugeToWinderMm;
}

/** A stretch of strand; gauge lengths, mm. */
export interface Stretch {
  readonly fromMm: number;
  readonly toMm: number;
}

/** Overlapping stretches as one each, in order. */
export function mergedStretches(stretches: readonly Stretch[]): Stretch[] {
  const merged: { fromMm: number; toMm: number }[] = [];
  for (const { fromMm, toMm } of stretches.toSorted((a, b) => a.fromMm - b.fromMm)) {
    const last = merged.at(-1);
    if (last !== undefined && fromMm <= last.toMm) last.toMm = Math.max(last.toMm, toMm);
    else merged.push({ fromMm, toMm });
  }
  return merged;
}

/** All that places on a spool follow from. */
export interface StrandOnWinder {
  readonly startGaugeMm: number;
  /** True length = this × counted length. */
  readonly lengthFactor: number;
  /** Strand that was cut out before it was wound: rising, without overlaps. */
  readonly cutOuts: readonly Stretch[];
}

/** A spool without a tape measurement: its lengths are as counted by the line. */
export function asCounted(
  { startGaugeMm }: Pick<StrandOnWinder, 'startGaugeMm'>,
  cutOuts: readonly Stretch[],
): StrandOnWinder {
  return { startGaugeMm, lengthFactor: 1, cutOuts };
}

/**
 * Position on the spool from its inner end, mm. Strand that was cut out has no length on the spool: all of it is at the
 * joint.
 */
export function spoolPositionMm(gaugeMm: number, { startGaugeMm, lengthFactor, cutOuts }: StrandOnWinder): number {
  let countedMm = gaugeMm - startGaugeMm;
  for (const { fromMm, toMm } of cutOuts) {
    if (fromMm >= gaugeMm) break;
    countedMm -= Math.max(0, Math.min(gaugeMm, toMm) - Math.max(startGaugeMm, fromMm));
  }
  return countedMm * lengthFactor;
}

/** Gauge length of a position on the spool; at a joint, that of its inner side. */
export function gaugeLengthMm(spoolMm: number, { startGaugeMm, lengthFactor, cutOuts }: StrandOnWinder): number {
  let gaugeMm = startGaugeMm + spoolMm / lengthFactor;
  for (const { fromMm, toMm } of cutOuts) {
    const firstMm = Math.max(startGaugeMm, fromMm);
    if (toMm <= firstMm) continue;
    if (gaugeMm <= firstMm) break;
    gaugeMm += toMm - firstMm;
  }
  return gaugeMm;
}

/** What is left between two gauge lengths without the strand that was cut out, in order. */
export function withoutCutOuts(fromMm: number, toMm: number, cutOuts: readonly Stretch[]): Stretch[] {
  const left: Stretch[] = [];
  let atMm = fromMm;
  for (const cut of cutOuts) {
    if (cut.toMm <= atMm) continue;
    if (cut.fromMm >= toMm) break;
    if (cut.fromMm > atMm) left.push({ fromMm: atMm, toMm: cut.fromMm });
    atMm = cut.toMm;
  }
  if (atMm < toMm) left.push({ fromMm: atMm, toMm });
  return left;
}

/** Whether this strand was cut out. The ends of a stretch stay: they are joined. */
export function isCutOut(gaugeMm: number, cutOuts: readonly Stretch[]): boolean {
  return cutOuts.some(({ fromMm, toMm }) => gaugeMm > fromMm && gaugeMm < toMm);
}

/** Gauge length of the strand at the winder now, which is where a spool taken off now ends. */
export function winderGaugeMm(gaugeNowMm: number, gaugeToWinderMm: number): number {
  return gaugeNowMm - gaugeToWinderMm;
}

/** Time until the start of a section reaches the winder, s; null once it is there, and while the strand stands still or its speed is unknown. */
export function reachesWinderInS(
  sectionFromMm: number,
  gaugeNowMm: number,
  gaugeToWinderMm: number,
  speedMmPerS: number,
): number | null {
  const leftMm = sectionFromMm - winderGaugeMm(gaugeNowMm, gaugeToWinderMm);
  return leftMm > 0 && speedMmPerS > 0 ? leftMm / speedMmPerS : null;
}
