/**
 * Gauge length and spool position.
 *
 * What lies between the gauge and the winder has been measured, but is not wound yet. When winding starts at gauge length
 * L0, the piece that is just then at the winder passed the gauge at L0 − path (conservation of length): that piece is the
 * spool's position 0, and from then on a point with gauge length g lies at position g − (L0 − path).
 */

/** Gauge length of the spool's innermost point, mm; below 0 where the winding began before a path's length was measured. */
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

/** Gauge length of the piece that is at the winder now: where a spool that is taken off now ends. */
export function winderGaugeMm(gaugeNowMm: number, gaugeToWinderMm: number): number {
  return gaugeNowMm - gaugeToWinderMm;
}

/** Length on the spool now, mm. */
export function woundMm(gaugeNowMm: number, gaugeToWinderMm: number, startGaugeMm: number): number {
  return Math.max(0, winderGaugeMm(gaugeNowMm, gaugeToWinderMm) - startGaugeMm);
}

/** Time until a section's first millimetre reaches the winder, s; null once it is there, or while the strand stands still or its speed is unknown. */
export function reachesWinderInS(
  sectionFromMm: number,
  gaugeNowMm: number,
  gaugeToWinderMm: number,
  speedMmPerS: number,
): number | null {
  const leftMm = sectionFromMm - winderGaugeMm(gaugeNowMm, gaugeToWinderMm);
  return leftMm > 0 && speedMmPerS > 0 ? leftMm / speedMmPerS : null;
}
