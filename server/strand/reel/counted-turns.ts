/** Readings of the winder's turn counter by spool position; parallel arrays, positions rising. */
export interface CounterReadings {
  /** From the inner end of the spool. */
  readonly positionMm: readonly number[];
  /** As sent: it may start at any value and restart; null = not sent. */
  readonly count: readonly (number | null)[];
}

/** Turns since winding started, by position: both rise from 0, linear in between. */
export interface CountedTurns {
  readonly positionMm: readonly number[];
  readonly turns: readonly number[];
  /** Turns that were not counted but calculated from the geometry, because the counter was silent or restarted. */
  readonly bridgedTurns: number;
}

/** A counter that advances this many times faster than the geometry allows was garbled, or set by hand. */
const FASTEST = 3;
/** Counts are whole turns: up to one on either side of a step is not seen. */
const STEP_TURNS = 2;
/** With a larger difference from the geometry, the counter does not count turns of this spool. Common practice, no source. */
const OFF_SHARE_MAX = 0.3;
const OFF_TURNS_MAX = 3;
/** A counter that mostly had to be bridged is no source of turns. */
const BRIDGED_SHARE_MAX = 0.5;

/**
 * Turns of the spool from the winder's counter. It usually counts whole turns, so only its steps are exact; what it does
 * not show follows from the geometry. Null = the counter was never sent.
 *
 * @param turnsByGeometry turns up to a position according to the spool's dimensions
 */
export function countedTurns(
  readings: CounterReadings,
  woundMm: number,
  turnsByGeometry: (positionMm: number) => number,
): CountedTurns | null {
  const positionMm = [0];
  const turns = [0];
  let stepMm = 0;
  let turnsAtStep = 0;
  let bridgedTurns = 0;
  let count = Number.NaN;
  let heardMm = 0;
  const between = (fromMm: number, toMm: number) => Math.max(0, turnsByGeometry(toMm) - turnsByGeometry(fromMm));
  const add = (atMm: number, more: number) => {
    stepMm = atMm;
    turnsAtStep += more;
    positionMm.push(stepMm);
    turns.push(turnsAtStep);
  };
  for (const [i, atMm] of readings.positionMm.entries()) {
    const now = readings.count[i] ?? Number.NaN;
    if (Number.isNaN(now) || !(atMm >= 0) || atMm > woundMm) continue;
    if (now !== count) {
      const expected = between(stepMm, atMm);
      const advance = now - count;
      const counted = advance > 0 && advance <= FASTEST * expected + STEP_TURNS;
      if (!counted) bridgedTurns += expected;
      // Two counts at the same position are one point.
      if (atMm > stepMm) add(atMm, counted ? advance : expected);
      count = now;
    }
    heardMm = atMm;
  }
  if (Number.isNaN(count)) return null;
  if (woundMm > stepMm) {
    const unheard = between(heardMm, woundMm);
    bridgedTurns += unheard;
    // It has made less than one turn since its last step.
    add(woundMm, Math.min(1, between(stepMm, heardMm)) + unheard);
  }
  return { positionMm, turns, bridgedTurns };
}

/** Whether the counter can count turns of this spool: not if it counts pulses, or stands still. */
export function isPlausible(
  { turns, bridgedTurns }: Pick<CountedTurns, 'turns' | 'bridgedTurns'>,
  byGeometry: number,
): boolean {
  const off = Math.abs((turns.at(-1) ?? 0) - byGeometry);
  return (
    off <= Math.max(OFF_TURNS_MAX, OFF_SHARE_MAX * byGeometry) &&
    bridgedTurns <= Math.max(OFF_TURNS_MAX, BRIDGED_SHARE_MAX * byGeometry)
  );
}

/** @param atMm position from the inner end; beyond the last known position, the turns there */
export function turnsAt({ positionMm, turns }: Omit<CountedTurns, 'bridgedTurns'>, atMm: number): number {
  let low = 0;
  let high = positionMm.length - 1;
  if (high < 0) return 0;
  if (!(atMm < positionMm[high]!)) return turns[high]!;
  while (high - low > 1) {
    const middle = (low + high) >>> 1;
    if (positionMm[middle]! <= atMm) low = middle;
    else high = middle;
  }
  const [fromMm, toMm] = [positionMm[low]!, positionMm[high]!];
  const share = toMm > fromMm ? Math.max(0, (atMm - fromMm) / (toMm - fromMm)) : 0;
  return turns[low]! + share * (turns[high]! - turns[low]!);
}
