import { FAULTS, type FaultOutcome, playFault } from './faults.ts';
import { type ClaimInLife, normalLife } from './normal-life.ts';
import { type Known, WatchedLine } from './watched-line.ts';

/** A piece of the bench: a few seeds of one kind. */
export interface Job {
  readonly play: 'evenings' | 'faults';
  readonly known: Known;
  readonly fromSeed: number;
  readonly count: number;
}

export interface JobResult {
  readonly simulatedS: number;
  readonly claims: readonly ClaimInLife[];
  /** One list a fault, in the order of `FAULTS`. */
  readonly outcomes: readonly (readonly FaultOutcome[])[];
}

export function playJob({ play, known, fromSeed, count }: Job): JobResult {
  const claims: ClaimInLife[] = [];
  const outcomes: FaultOutcome[][] = FAULTS.map(() => []);
  let simulatedS = 0;
  for (let seed = fromSeed; seed < fromSeed + count; seed++) {
    if (play === 'evenings') {
      const life = normalLife(seed, known);
      claims.push(...life.claims);
      simulatedS += life.simulatedS;
      continue;
    }
    // All faults of a seed occur on the same line, each on a separate evening.
    const first = WatchedLine.new(seed, known);
    for (const [i, fault] of FAULTS.entries()) {
      const line = first.nextEvening();
      outcomes[i]?.push(playFault(fault, seed, line));
      simulatedS += line.plant.timeS;
    }
  }
  return { simulatedS, claims, outcomes };
}
