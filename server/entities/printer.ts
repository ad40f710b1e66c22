/** A printer that strand is judged for. */
export interface Printer {
  readonly id: number;
  readonly name: string;
  readonly hotendLimitMm: number;
  readonly leastFeedableMm: number;
  readonly toleranceMm: number;
  readonly note: string;
}
