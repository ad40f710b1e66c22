import { betaQuantile } from '../probability/beta.ts';
import { FITNESSES, type Fitness } from '../strand/verdict/spool-verdict.ts';
import type { PrintOfStrand } from './coil-stock.ts';

/** What became of the prints from strand that was called so. */
export interface PromiseRow {
  readonly called: Fitness;
  readonly printedWell: number;
  readonly jammed: number;
  readonly flawed: number;
  /** Still running, or their end was never noted. */
  readonly notKnown: number;
  /** Share of prints that jam, 95 %; null = no print has ended. */
  readonly jams: { readonly lower: number; readonly upper: number } | null;
}

/** Exact interval of a share (Clopper and Pearson 1934), 95 %. */
export function shareInterval(count: number, of: number): { readonly lower: number; readonly upper: number } {
  const miss = 0.025;
  return {
    lower: count === 0 ? 0 : betaQuantile(miss, count, of - count + 1),
    upper: count === of ? 1 : betaQuantile(1 - miss, count + 1, of - count),
  };
}

/** One row for each verdict, in their usual order. Prints without a verdict from their time are left out. */
export function promisesKept(prints: readonly PrintOfStrand[]): readonly PromiseRow[] {
  return FITNESSES.map((called) => {
    const count = (outcome: PrintOfStrand['outcome']) =>
      prints.filter((print) => print.called === called && print.outcome === outcome).length;
    const [printedWell, jammed, flawed] = [count('finished'), count('jammed'), count('flawed')];
    const ended = printedWell + jammed + flawed;
    return {
      called,
      printedWell,
      jammed,
      flawed,
      notKnown: count('open'),
      jams: ended === 0 ? null : shareInterval(jammed, ended),
    };
  });
}
