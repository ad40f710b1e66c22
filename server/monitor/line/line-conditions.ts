import type { Condition } from '../../alarm/alarm.ts';
import {
  coldScrewCondition,
  deviceRestartedCondition,
  diskFillingCondition,
  gaugeFrozenCondition,
  gaugeMissingCondition,
  heatConditions,
  hotStandingCondition,
  lineGarbledCondition,
  lineSilentCondition,
  ONLY_GARBAGE,
  type PlacedSection,
  recordFailingCondition,
  strandConditions,
} from '../../alarm/conditions.ts';
import type { Spool } from '../../entities/spool.ts';
import type { ScrewAndHeat } from '../../heat/standing-hot.ts';
import type { HeatLimits, ZoneStatus } from '../../heat/zone-status.ts';
import { reachesWinderInS } from '../../strand/position.ts';
import type { MeasuredSection } from '../../strand/section.ts';
import type { StrandLimits } from '../../strand/strand-limits.ts';
import type { LinkState } from '../link.ts';

/** A restart of the device counts as news for so long. */
const RESTART_NEWS_MS = 5000;

/** What is known of the strand, at one moment. */
export interface StrandFindings {
  readonly strandLimits: StrandLimits;
  /** Sections that have not reached the winder in full, or still grow. */
  readonly underway: readonly MeasuredSection[];
  /** The run among whose sections they are counted. */
  readonly sectionsOfRun: number;
  readonly spool: Spool | null;
  readonly gaugeMm: number;
  readonly gaugeToWinderMm: number;
  readonly speedMmPerS: number;
}

/** What the rooms found, at one moment. */
export interface Findings extends StrandFindings {
  readonly timeMs: number;
  readonly zones: readonly ZoneStatus[];
  readonly zoneNames: readonly string[];
  readonly heatLimits: HeatLimits;
  readonly standing: ScrewAndHeat;
  readonly charAfterMin: number;
  readonly gauge: {
    readonly frozen: boolean;
    readonly diameterMm: number;
    readonly forS: number;
    /** Readings have come without a diameter for so long, s. */
    readonly missingForS: number;
  };
  readonly restarts: number;
}

/** Far enough below its limit that a zone's alarm has returned to normal whatever its deadband, K. */
const FAR_BELOW_LIMIT_C = 30;
const NOTHING: readonly Condition[] = [];

/**
 * Turns what the rooms found into conditions for the alarms. What holds, or held the last time, is given; what never held
 * costs nothing, for this runs ten times a second of a replayed night.
 */
export class LineConditions {
  #restarts = 0;
  #restartedMs = Number.NEGATIVE_INFINITY;
  #zones: readonly ZoneStatus[] = [];
  #heat: readonly Condition[] = NOTHING;
  // At first everything counts as having held: an alarm that stood when the service stopped must learn that it is over.
  #strandHeld = true;
  #gaugeHeld = true;
  #restartHeld = true;
  #heatHeld = true;
  #standingHeld = true;

  /** A new connection counts restarts from nought. */
  linkMade(): void {
    this.#restarts = 0;
    this.#restartedMs = Number.NEGATIVE_INFINITY;
    this.#restartHeld = true;
  }

  /** Conditions that a reading can change. */
  ofReadings(found: Findings): readonly Condition[] {
    const heat = this.#heatConditions(found);
    const strand = this.#strandConditions(found);
    const gauge = this.#gaugeConditions(found);
    const device = this.#deviceConditions(found);
    const screw = this.#screwConditions(found);
    const some = heat.length + strand.length + gauge.length + device.length + screw.length;
    return some === 0 ? NOTHING : [...strand, ...gauge, ...device, ...heat, ...screw];
  }

  #screwConditions({ standing, charAfterMin, zoneNames }: Findings): readonly Condition[] {
    const { coldForScrew: cold, hotStandingS, hottestC } = standing;
    const held = this.#standingHeld;
    this.#standingHeld = cold !== null || hotStandingS >= charAfterMin * 60;
    if (!held && !this.#standingHeld) return NOTHING;
    const name = cold === null ? '' : zoneNames[cold.zone - 1] || `Zone ${cold.zone}`;
    return [coldScrewCondition(cold, name), hotStandingCondition(hotStandingS, hottestC, charAfterMin)];
  }

  #strandConditions(found: Findings): readonly Condition[] {
    const held = this.#strandHeld;
    this.#strandHeld = found.underway.length > 0;
    if (!held && !this.#strandHeld) return NOTHING;
    return strandConditions(placed(found), found.strandLimits);
  }

  #gaugeConditions(found: Findings): readonly Condition[] {
    const { gauge } = found;
    const missing = gaugeMissingCondition(gauge.missingForS);
    const held = this.#gaugeHeld;
    this.#gaugeHeld = gauge.frozen || missing.active;
    return held || this.#gaugeHeld ? [missing, gaugeFrozenCondition(gauge)] : NOTHING;
  }

  #deviceConditions(found: Findings): readonly Condition[] {
    if (found.restarts !== this.#restarts) {
      this.#restarts = found.restarts;
      this.#restartedMs = found.timeMs;
    }
    if (found.restarts === 0 && !this.#restartHeld) return NOTHING;
    this.#restartHeld = false;
    const { spool, gaugeMm } = found;
    const where = spool && {
      runId: spool.runId,
      gaugeMm,
      spoolMm: gaugeMm - spool.startGaugeMm,
      spoolOrdinal: spool.ordinal,
    };
    const justNow = found.timeMs - this.#restartedMs < RESTART_NEWS_MS;
    const restartedMs = found.restarts === 0 ? null : this.#restartedMs;
    return [deviceRestartedCondition({ restartedMs, justNow, where })];
  }

  #heatConditions({ zones, zoneNames, heatLimits }: Findings): readonly Condition[] {
    // The heat room gives back the same list as long as nothing in it has changed.
    if (zones === this.#zones) return this.#heat;
    const before = this.#zones;
    const conditions: Condition[] = [];
    for (let i = 0; i < zones.length; i++) {
      const zone = zones[i]!;
      const quiet = !this.#heatHeld && zone.faults.length === 0 && (before[i]?.faults.length ?? 0) === 0;
      const near = (zone.temperatureC ?? 0) > heatLimits.absoluteLimitC - FAR_BELOW_LIMIT_C;
      if (quiet && !near) continue;
      conditions.push(...heatConditions(zone, zoneNames[zone.zone - 1] ?? '', heatLimits));
    }
    this.#zones = zones;
    if (zones.length > 0) this.#heatHeld = false;
    this.#heat = conditions.length === 0 ? NOTHING : conditions;
    return this.#heat;
  }

  /** Conditions that time alone can change. */
  ofLink(
    link: LinkState,
    quietForS: number,
    record: { readonly trouble: string | null; readonly diskFilling: string | null },
  ): readonly Condition[] {
    const live = link.timing === 'live';
    return [
      lineSilentCondition({ live, silentForS: quietForS, text: link.onlyGarbage ? ONLY_GARBAGE : link.status.text }),
      lineGarbledCondition(link),
      recordFailingCondition(record.trouble),
      diskFillingCondition(record.diskFilling),
    ];
  }
}

/**
 * What still holds of the strand when a run is taken up, before anything was read: alarms of before then tell what is in
 * the record, not what was known when they were raised. That something is over only a reading can tell.
 */
export function stillHolding(found: StrandFindings): readonly Condition[] {
  return strandConditions(placed(found), found.strandLimits).filter(({ active }) => active);
}

function placed(found: StrandFindings): PlacedSection[] {
  const { spool, gaugeMm, gaugeToWinderMm, speedMmPerS } = found;
  return found.underway
    .filter((section) => section.open || section.kind === 'blob' || section.kind === 'neck')
    .map((section) => ({
      section,
      runId: found.sectionsOfRun,
      spoolMm: spool === null ? null : (section.peakAtMm ?? section.fromMm) - spool.startGaugeMm,
      spoolOrdinal: spool?.ordinal ?? null,
      reachesWinderInS: reachesWinderInS(section.fromMm, gaugeMm, gaugeToWinderMm, speedMmPerS),
    }));
}
