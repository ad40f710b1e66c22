import type { Condition } from '../alarm/alarm.ts';
import { appliesIn } from '../alarm/catalogue.ts';
import {
  deviceRestartedCondition,
  gaugeFrozenCondition,
  heatConditions,
  lineGarbledCondition,
  lineSilentCondition,
  type PlacedSection,
  recordFailingCondition,
  strandConditions,
} from '../alarm/conditions.ts';
import type { HeatLimits, ZoneStatus } from '../heat/zone-status.ts';
import { reachesWinderInS } from '../strand/position.ts';
import type { MeasuredSection } from '../strand/section.ts';
import type { Stage } from '../strand/stage.ts';
import type { StrandLimits } from '../strand/strand-limits.ts';
import type { LinkSnapshot } from './link.ts';
import type { Spool } from './ports.ts';

/** A restart of the device counts as news for so long. */
const RESTART_NEWS_MS = 5000;

/** What the rooms found, at one moment. */
export interface Findings {
  readonly timeMs: number;
  readonly stage: Stage;
  readonly zones: readonly ZoneStatus[];
  readonly zoneNames: readonly string[];
  readonly heatLimits: HeatLimits;
  readonly strandLimits: StrandLimits;
  /** Sections that have not reached the winder in full, or still grow. */
  readonly underway: readonly MeasuredSection[];
  readonly spool: Spool | null;
  readonly gaugeMm: number;
  readonly gaugeToWinderMm: number;
  readonly speedMmPerS: number;
  readonly gauge: { readonly frozen: boolean; readonly diameterMm: number; readonly forS: number };
  readonly restarts: number;
}

/** Turns what the rooms found into conditions for the alarms. */
export class Judgement {
  #restarts = 0;
  #restartedMs = Number.NEGATIVE_INFINITY;
  #zones: readonly ZoneStatus[] | null = null;
  #heat: readonly Condition[] = [];

  /** A new connection counts restarts from nought. */
  linkMade(): void {
    this.#restarts = 0;
    this.#restartedMs = Number.NEGATIVE_INFINITY;
  }

  /** Conditions that a reading can change. */
  ofReadings(found: Findings): readonly Condition[] {
    if (found.restarts !== this.#restarts) {
      this.#restarts = found.restarts;
      this.#restartedMs = found.timeMs;
    }
    // The heat room gives back the same list as long as nothing in it has changed.
    if (found.zones !== this.#zones) {
      this.#zones = found.zones;
      this.#heat = found.zones.flatMap((zone) =>
        heatConditions(zone, found.zoneNames[zone.zone - 1] ?? '', found.heatLimits),
      );
    }
    return [
      ...strandConditions(placed(found), found.strandLimits).map((condition) => inStage(condition, found.stage)),
      inStage(gaugeFrozenCondition(found.gauge), found.stage),
      deviceRestartedCondition({
        restarts: found.restarts,
        justNow: found.timeMs - this.#restartedMs < RESTART_NEWS_MS,
        ...(found.spool === null
          ? {}
          : { spoolMm: found.gaugeMm - found.spool.startGaugeMm, spoolOrdinal: found.spool.ordinal }),
      }),
      ...this.#heat,
    ];
  }

  /** Conditions that time alone can change. */
  ofLink(link: LinkSnapshot, quietForS: number, recordTrouble: string | null): readonly Condition[] {
    const live = link.timing === 'live';
    return [
      lineSilentCondition({ live, silentForS: quietForS, words: link.status.words }),
      lineGarbledCondition(link),
      recordFailingCondition(recordTrouble),
    ];
  }
}

function inStage(condition: Condition, stage: Stage): Condition {
  return condition.active && !appliesIn(condition.type, stage) ? { ...condition, active: false } : condition;
}

function placed(found: Findings): PlacedSection[] {
  const { spool, gaugeMm, gaugeToWinderMm, speedMmPerS } = found;
  return found.underway
    .filter((section) => section.open || section.kind === 'blob' || section.kind === 'neck')
    .map((section) => ({
      section,
      spoolMm: spool === null ? null : (section.peakAtMm ?? section.fromMm) - spool.startGaugeMm,
      spoolOrdinal: spool?.ordinal ?? null,
      reachesWinderInS: reachesWinderInS(section.fromMm, gaugeMm, gaugeToWinderMm, speedMmPerS),
    }));
}
