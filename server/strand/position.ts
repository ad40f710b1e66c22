/**
 * Gauge length and spool position.
 *
 * The strand between the gauge and the winder has been measured but is not wound yet. When winding starts at gauge length
 * L0, the strand at the winder passed the gauge at L0 − path (conservation of length). That point is position 0 on the
 * spool, and a point with gauge length g is at position g − (L0 − path).
 */

/** Gauge length of the spool's innermost point, mm; below 0 where winding started before one path length was measured. */
export function spoolStartGaugeMm(gaugeAtWindingStartMm: number, gaugeToWinderMm: number): number {
  return gaugeAtWindingStartMm - gaugeToWinderMm;
}

/** Position on the spool from its inner end, mm. */
export function spoolPositionMm(gaugeMm: number, startGaugeMm: number): number {
  return gaugeMm - startGaugeMm;
}

export function gaugeLengthMm(spoolMm: number, startGaugeMm: number): number {
  return spoolMm + startGaugeMm;
}

/** Gauge length of the strand at the winder now, which is where a spool taken off now ends. */
export function winderGaugeMm(gaugeNowMm: number, gaugeToWinderMm: number): number {
  return gaugeNowMm - gaugeToWinderMm;
}

/** Length on the spool now, mm. */
export function woundMm(gaugeNowMm: number, gaugeToWinderMm: number, startGaugeMm: number): number {
  return Math.max(0, winderGaugeMm(gaugeNowMm, gaugeToWinderMm) - startGaugeMm);
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
