import type { LearntZone } from './learnt-zone.ts';
import type { ThermalModel } from './thermal-model.ts';
import type { ZoneTrace } from './zone-trace.ts';

/** What a rule may look at. */
export interface ZoneSituation {
  readonly trace: ZoneTrace;
  readonly learnt: LearntZone;
  /** What its own heat-ups have taught; null = nothing yet. */
  readonly model: ThermalModel | null;
  /** °C; 0 = off, NaN = the line sends none. */
  readonly setpointC: number;
  /** Seconds since the set-point last changed. */
  readonly setpointSteadyS: number;
  /** The line sends this zone's power. */
  readonly powerKnown: boolean;
  /** It has been at this set-point for a while since the set-point changed. */
  readonly held: boolean;
  /** "At heat" means within this of the set-point, K. */
  readonly withinC: number;
  /** Kelvins by which the neighbours are hotter, summed. */
  readonly neighboursHotterK: number;
  /** Kelvins by which they are colder, summed. */
  readonly neighboursColderK: number;
  /** The watch began, or began anew after a gap or a restart, with this zone hot, so many seconds ago; Infinity = it was cold. */
  readonly armedHotS: number;
}

/** A fault that shows over seconds; judged once a second of reading time. */
export interface SlowRule {
  judge(zone: ZoneSituation, timeMs: number): boolean;
  /** Forgets the past, after a gap or a restart. */
  rearm(): void;
}
