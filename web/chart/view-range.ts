export type Range = readonly [from: number, to: number];

/** A range within the whole, at least `least` wide. A range that sticks out is moved, not cut. */
export function within([from, to]: Range, [wholeFrom, wholeTo]: Range, least: number): Range {
  const whole = wholeTo - wholeFrom;
  const span = Math.min(whole, Math.max(least, to - from));
  const mid = (from + to) / 2;
  const start = Math.min(Math.max(mid - span / 2, wholeFrom), wholeTo - span);
  return [start, start + span];
}

/** Zooms in (`factor` < 1) or out (> 1) around `at`. */
export function zoom([from, to]: Range, at: number, factor: number): Range {
  return [at - (at - from) * factor, at + (to - at) * factor];
}

export function pan([from, to]: Range, by: number): Range {
  return [from + by, to + by];
}

/** The window to request: the view and half of it on either side, so that a small move shows no blank. */
export function askRange([from, to]: Range, [wholeFrom, wholeTo]: Range): Range {
  const half = (to - from) / 2;
  return [Math.max(wholeFrom, from - half), Math.min(wholeTo, to + half)];
}
