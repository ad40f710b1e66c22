/** A printer for which strand is judged. */
export interface Printer {
  readonly id: number;
  readonly name: string;
  readonly hotendLimitMm: number;
  readonly smallestFeedableMm: number;
  readonly toleranceMm: number;
  readonly note: string;
}
