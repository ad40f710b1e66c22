import type { Layout } from './reading.ts';

/** What of the names on the cable is understood, and so can be watched. */
export interface Understood {
  readonly diameter: boolean;
  /** Of any zone. */
  readonly temperature: boolean;
  /** Any name at all, the bookkeeping left aside. */
  readonly anything: boolean;
  /** Names that are kept and drawn, and that nobody knows the meaning of. */
  readonly unknownNames: readonly string[];
}

export function understoodIn(layout: Layout): Understood {
  return {
    diameter: layout.diameter >= 0,
    temperature: layout.zones.some(({ temperature }) => temperature >= 0),
    anything: layout.channels.some(({ role }) => role !== null),
    unknownNames: layout.channels.filter(({ role }) => role === null).map(({ name }) => name),
  };
}
