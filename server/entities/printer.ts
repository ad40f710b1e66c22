/** A printer for which strand is judged. */
export interface Printer {
  readonly id: number;
  readonly name: string;
  readonly hotendLimitMm: number;
  readonly leastFeedableMm: number;
  readonly toleranceMm: number;
  readonly note: string;
}
