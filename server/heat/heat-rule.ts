import type { LearntZone, ZoneResponse } from './learnt-zone.ts';
import type { ThermalModel } from './thermal-model.ts';
import type { TraceView } from './zone-trace.ts';

/** What a rule may look at: one zone, once a second. */
export interface ZoneSituation {
  readonly trace: TraceView;
  readonly learnt: Omit<LearntZone, 'learnHolding' | 'learnHeating'>;
  /** How slowly other zones of the line have responded; null = none has yet. */
  readonly elsewhere: ZoneResponse | null;
  /** By how much the zone is slower than a usual one, 1 = it is not. */
  readonly slowness: number;
  /** Learnt from the zone's own heat-ups; null = nothing learnt yet. */
  readonly model: ThermalModel | null;
  /** °C; 0 = off, NaN = the line does not send it. */
  readonly setpointC: number;
  /** Seconds since the set-point last changed. */
  readonly setpointSteadyS: number;
  /** The line sends this zone's power. */
  readonly powerKnown: boolean;
  /** The zone has been at its set-point for a while since the set-point last changed. */
  readonly held: boolean;
  /** "At heat" means within this of the set-point, K. */
  readonly withinC: number;
  /** Sum of the kelvins by which neighbours are hotter. */
  readonly neighboursHotterK: number;
  /** Sum of the kelvins by which neighbours are colder. */
  readonly neighboursColderK: number;
  /** Seconds since the watch started, or restarted after a gap, with this zone already hot; Infinity = it was cold then. */
  readonly hotStartAgoS: number;
}

/** A fault that takes seconds to show; checked once a second of reading time. */
export interface SlowRule {
  check(zone: ZoneSituation, timeMs: number): boolean;
  /** Forgets the past, after a gap or a restart. */
  reset(): void;
}
