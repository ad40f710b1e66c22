/** What the winder's turn counter showed when the strand at a position was wound: parallel, positions rising. */
export interface CounterReadings {
  /** From the inner end of the spool. */
  readonly positionMm: readonly number[];
  /** As sent: it may begin anywhere and begin anew; null = nothing was sent. */
  readonly count: readonly (number | null)[];
}

/** Turns since the winding began, along the strand: both rise from 0, straight in between. */
export interface CountedTurns {
  readonly positionMm: readonly number[];
  readonly turns: readonly number[];
  /** Of the last turns so many were not counted but follow from the geometry: the counter was not heard, or began anew. */
  readonly bridgedTurns: number;
}

/** A counter that goes so many times faster than the geometry lets it was garbled, or set by hand. */
const FASTEST = 3;
/** Whole turns: up to one on either side of a step is not seen. */
const STEP_TURNS = 2;
/** Beyond these the counter counts something else than turns of this spool. Common practice, no source. */
const BELIEVED_SHARE = 0.3;
const BELIEVED_TURNS = 3;
/** A counter that mostly had to be bridged tells nothing of its own. */
const BRIDGED_SHARE_MAX = 0.5;

/**
 * Turns of the spool from the winder's counter, which counts whole turns as a rule: only where it steps its place is
 * known. Whatever it does not tell is taken from the geometry. Null = it was never heard.
 *
 * @param turnsByGeometry turns that the strand up to a position makes by the spool's measures
 */
export function countedTurns(
  readings: CounterReadings,
  woundMm: number,
  turnsByGeometry: (positionMm: number) => number,
): CountedTurns | null {
  const positionMm = [0];
  const turns = [0];
  let bridgedTurns = 0;
  let count = Number.NaN;
  let heardMm = 0;
  const between = (fromMm: number, toMm: number) => Math.max(0, turnsByGeometry(toMm) - turnsByGeometry(fromMm));
  const add = (atMm: number, more: number) => {
    positionMm.push(atMm);
    turns.push(turns.at(-1)! + more);
  };
  for (let i = 0; i < readings.positionMm.length; i++) {
    const atMm = readings.positionMm[i]!;
    const now = readings.count[i] ?? Number.NaN;
    if (Number.isNaN(now) || !(atMm >= 0) || atMm > woundMm) continue;
    const stepMm = positionMm.at(-1)!;
    if (now !== count) {
      const expected = between(stepMm, atMm);
      const advance = now - count;
      const counted = advance > 0 && advance <= FASTEST * expected + STEP_TURNS;
      if (!counted) bridgedTurns += expected;
      // Two counts at one place are one place.
      if (atMm > stepMm) add(atMm, counted ? advance : expected);
      count = now;
    }
    heardMm = atMm;
  }
  if (Number.isNaN(count)) return null;
  const stepMm = positionMm.at(-1)!;
  if (woundMm > stepMm) {
    const unheard = between(heardMm, woundMm);
    bridgedTurns += unheard;
    // Since its last step it has made less than a turn.
    add(woundMm, Math.min(1, between(stepMm, heardMm)) + unheard);
  }
  return { positionMm, turns, bridgedTurns };
}

/** Whether a counter can be one of the turns of this spool; one that counts pulses, or stands, is not. */
export function isPlausible(
  { turns, bridgedTurns }: Pick<CountedTurns, 'turns' | 'bridgedTurns'>,
  byGeometry: number,
): boolean {
  const off = Math.abs((turns.at(-1) ?? 0) - byGeometry);
  return (
    off <= Math.max(BELIEVED_TURNS, BELIEVED_SHARE * byGeometry) &&
    bridgedTurns <= Math.max(BELIEVED_TURNS, BRIDGED_SHARE_MAX * byGeometry)
  );
}

/** @param positionMm from the inner end; beyond the last place that is known, that place's turns */
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
