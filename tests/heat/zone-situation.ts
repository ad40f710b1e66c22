import type { ZoneSituation } from '../../server/heat/heat-rule.ts';
import { LearntZone } from '../../server/heat/learnt-zone.ts';
import type { TraceView } from '../../server/heat/zone-trace.ts';

type Writable<T> = { -readonly [Name in keyof T]: T[Name] };

/** A zone that has held 200 °C for an hour, nothing learnt, without hotter or colder neighbours. */
export const zoneSituation = <Trace extends TraceView>(
  trace: Trace,
  more: Partial<ZoneSituation> = {},
): Writable<ZoneSituation> & { readonly trace: Trace } => ({
  learnt: new LearntZone(),
  elsewhere: null,
  slowness: 1,
  model: null,
  setpointC: 200,
  setpointSteadyS: 3600,
  powerKnown: true,
  held: true,
  withinC: 5,
  neighboursHotterK: 0,
  neighboursColderK: 0,
  hotStartAgoS: Number.POSITIVE_INFINITY,
  ...more,
  trace,
});
