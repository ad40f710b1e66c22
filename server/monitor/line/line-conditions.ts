import type { Condition } from '../../alarm/alarm.ts';
import {
  coldScrewCondition,
  deviceRestartedCondition,
  gaugeBlindCondition,
  gaugeFrozenCondition,
  gaugeMissingCondition,
  heatConditions,
  hotStandingCondition,
  lengthContradictedCondition,
  lineGarbledCondition,
  lineSilentCondition,
  type PlacedSection,
  signalsChangedCondition,
  strandConditions,
  UNREADABLE_TEXT,
} from '../../alarm/conditions.ts';
import {
  type DatedWrong,
  diskFillingCondition,
  type Guessing,
  keysGuessedCondition,
  recordDamagedCondition,
  recordFailingCondition,
  runDatedWrongCondition,
} from '../../alarm/record-conditions.ts';
import { type SpoolFilling, spoolFullCondition, wantedReachedCondition } from '../../alarm/spool-conditions.ts';
import type { Spool } from '../../entities/spool.ts';
import type { ScrewAndHeat } from '../../heat/standing-hot.ts';
import type { HeatLimits, ZoneStatus } from '../../heat/zone-status.ts';
import type { LengthContradiction } from '../../strand/length-agreement.ts';
import { reachesWinderInS } from '../../strand/position.ts';
import type { MeasuredSection } from '../../strand/section.ts';
import type { StrandLimits } from '../../strand/strand-limits.ts';
import type { LostNames } from './format-watch.ts';
import type { LinkState } from './link.ts';

/** How long a restart of the device is reported as new. */
const RESTART_IS_NEW_MS = 5000;

/** The state of the strand at one moment. */
export interface StrandState {
  readonly strandLimits: StrandLimits;
  /** Sections that have not reached the winder in full, or are still open. */
  readonly underway: readonly MeasuredSection[];
  /** The run to which the ordinals of these sections belong. */
  readonly sectionsOfRun: number;
  readonly spool: Spool | null;
  /** Position as counted on that spool of a gauge length. */
  readonly spoolPositionMm: (spool: Spool, gaugeMm: number) => number;
  readonly gaugeMm: number;
  readonly gaugeToWinderMm: number;
  readonly speedMmPerS: number;
  /** False = travel is unknown, or counter and speed contradict each other: places on the spool are unknown. */
  readonly placesAreKnown: boolean;
}

/** The state of the line at one moment. */
export interface LineState extends StrandState {
  readonly timeMs: number;
  readonly zones: readonly ZoneStatus[];
  readonly zoneNames: readonly string[];
  readonly heatLimits: HeatLimits;
  readonly screwAndHeat: ScrewAndHeat;
  readonly charAfterMin: number;
  readonly gauge: {
    readonly frozen: boolean;
    readonly diameterMm: number;
    readonly forS: number;
    /** How long readings have come without a diameter, s. */
    readonly missingForS: number;
    /** The highest diameter that it can send, where that is too low to see a blob; NaN = it is not. */
    readonly blindFromMm: number;
  };
  /** How full the spool being wound is; null = none is, or its length is not known. */
  spoolFilling(): SpoolFilling | null;
  readonly restarts: number;
  /** Null = counter and speed agree. */
  readonly lengthContradiction: LengthContradiction | null;
  /** Null = nothing is missing because its name has changed. */
  readonly lostNames: LostNames | null;
}

/** This far below its limit, a zone's alarm has returned to normal with any deadband. K. */
const FAR_BELOW_LIMIT_C = 30;
/** This long before the limit, the alarm of a full spool has returned to normal with any deadband. */
const NEAR_FULL_S = 1200;
/** A spool fills slowly. */
const SPOOL_EVERY_MS = 1000;
const NONE: readonly Condition[] = [];

/**
 * Derives the conditions for the alarms from the state of the line. Only conditions that hold, or held at the last check,
 * are returned, because this runs ten times for each second of a replayed night.
 */
export class LineConditions {
  #restarts = 0;
  #restartedMs = Number.NEGATIVE_INFINITY;
  #zones: readonly ZoneStatus[] = [];
  #heat: readonly Condition[] = NONE;
  // Everything counts as having held at first, so that alarms from before a restart can return to normal.
  #strandHeld = true;
  #gaugeHeld = true;
  #spoolHeld = true;
  #spoolCheckedMs = Number.NEGATIVE_INFINITY;
  #spool: readonly Condition[] = NONE;
  #restartHeld = true;
  #signalsHeld = true;
  #heatHeld = true;
  #screwHeld = true;

  /** A new link counts restarts from zero. */
  linkReplaced(): void {
    this.#restarts = 0;
    this.#restartedMs = Number.NEGATIVE_INFINITY;
    this.#restartHeld = true;
  }

  /** Conditions that depend on readings. */
  ofReadings(line: LineState): readonly Condition[] {
    const heat = this.#heatConditions(line);
    const strand = this.#strandConditions(line);
    const gauge = this.#gaugeConditions(line);
    const spool = this.#spoolConditions(line);
    const device = this.#deviceConditions(line);
    const screw = this.#screwConditions(line);
    const signals = this.#signalsConditions(line);
    const count =
      heat.length + strand.length + spool.length + gauge.length + device.length + screw.length + signals.length;
    return count === 0 ? NONE : [...signals, ...strand, ...spool, ...gauge, ...device, ...heat, ...screw];
  }

  #screwConditions({ screwAndHeat, charAfterMin, zoneNames }: LineState): readonly Condition[] {
    const { coldForScrew: cold, hotStandingS, hottestC } = screwAndHeat;
    const held = this.#screwHeld;
    this.#screwHeld = cold !== null || hotStandingS >= charAfterMin * 60;
    if (!held && !this.#screwHeld) return NONE;
    const name = cold === null ? '' : zoneNames[cold.zone - 1] || `Zone ${cold.zone}`;
    return [coldScrewCondition(cold, name), hotStandingCondition(hotStandingS, hottestC, charAfterMin)];
  }

  #strandConditions(line: LineState): readonly Condition[] {
    const held = this.#strandHeld;
    this.#strandHeld = line.underway.length > 0;
    if (!held && !this.#strandHeld) return NONE;
    return strandConditions(placedSections(line), line.strandLimits);
  }

  #spoolConditions({ timeMs, spoolFilling }: LineState): readonly Condition[] {
    if (Math.abs(timeMs - this.#spoolCheckedMs) < SPOOL_EVERY_MS) return this.#spool;
    this.#spoolCheckedMs = timeMs;
    const filling = spoolFilling();
    const [full, reached] = [spoolFullCondition(filling), wantedReachedCondition(filling)];
    const held = this.#spoolHeld;
    // Near its limit the alarm may stand although the condition does not hold.
    this.#spoolHeld = (full.excess ?? 0) > -NEAR_FULL_S || reached.active;
    this.#spool = held || this.#spoolHeld ? [full, reached] : NONE;
    return this.#spool;
  }

  #gaugeConditions({ gauge, lengthContradiction, strandLimits }: LineState): readonly Condition[] {
    const missing = gaugeMissingCondition(gauge.missingForS);
    const held = this.#gaugeHeld;
    const rangeEndsMm = Number.isNaN(gauge.blindFromMm) ? null : gauge.blindFromMm;
    this.#gaugeHeld = gauge.frozen || missing.active || rangeEndsMm !== null || lengthContradiction !== null;
    if (!held && !this.#gaugeHeld) return NONE;
    return [
      missing,
      gaugeFrozenCondition(gauge),
      gaugeBlindCondition(rangeEndsMm, strandLimits.hotendLimitMm),
      lengthContradictedCondition(lengthContradiction),
    ];
  }

  #signalsConditions({ lostNames, zoneNames }: LineState): readonly Condition[] {
    const held = this.#signalsHeld;
    this.#signalsHeld = lostNames !== null;
    return held || lostNames !== null ? [signalsChangedCondition(lostNames, zoneNames)] : NONE;
  }

  #deviceConditions({
    restarts,
    timeMs,
    spool,
    gaugeMm,
    spoolPositionMm,
    placesAreKnown,
  }: LineState): readonly Condition[] {
    if (restarts !== this.#restarts) {
      this.#restarts = restarts;
      this.#restartedMs = timeMs;
    }
    if (restarts === 0 && !this.#restartHeld) return NONE;
    this.#restartHeld = false;
    const where = spool && {
      runId: spool.runId,
      gaugeMm,
      ...(placesAreKnown ? { spoolMm: spoolPositionMm(spool, gaugeMm) } : {}),
      spoolOrdinal: spool.ordinal,
    };
    // The clock may have been set since.
    const justNow = Math.abs(timeMs - this.#restartedMs) < RESTART_IS_NEW_MS;
    const restartedMs = restarts === 0 ? null : this.#restartedMs;
    return [deviceRestartedCondition({ restartedMs, justNow, where })];
  }

  #heatConditions({ zones, zoneNames, heatLimits }: LineState): readonly Condition[] {
    // `HeatWatch` returns the same list until something changes.
    if (zones === this.#zones) return this.#heat;
    const before = this.#zones;
    const conditions: Condition[] = [];
    for (const [i, zone] of zones.entries()) {
      const quiet = !this.#heatHeld && zone.faults.length === 0 && (before[i]?.faults.length ?? 0) === 0;
      const nearLimit = (zone.temperatureC ?? 0) > heatLimits.absoluteLimitC - FAR_BELOW_LIMIT_C;
      if (quiet && !nearLimit) continue;
      conditions.push(...heatConditions(zone, zoneNames[zone.zone - 1] ?? '', heatLimits));
    }
    this.#zones = zones;
    if (zones.length > 0) this.#heatHeld = false;
    this.#heat = conditions.length === 0 ? NONE : conditions;
    return this.#heat;
  }

  /** Conditions that can change without a reading. */
  ofLink(
    link: LinkState,
    quietForS: number,
    record: {
      readonly trouble: string | null;
      readonly diskFilling: string | null;
      readonly damage: string | null;
      readonly datedWrong: DatedWrong | null;
    },
    guessing: readonly Guessing[],
  ): readonly Condition[] {
    const { isReleased, status } = link;
    const text = link.unreadable === null || isReleased ? status.text : UNREADABLE_TEXT[link.unreadable];
    return [
      lineSilentCondition({ live: link.timing === 'live', silentForS: quietForS, text, isReleased }),
      lineGarbledCondition(link),
      recordFailingCondition(record.trouble),
      diskFillingCondition(record.diskFilling),
      recordDamagedCondition(record.damage),
      runDatedWrongCondition(record.datedWrong),
      keysGuessedCondition(guessing),
    ];
  }
}

/**
 * Strand conditions that still hold when a run is resumed, before the first reading. They bring alarms from before the
 * restart up to date with the record. Only readings can show that a condition has ended.
 */
export function stillHolding(strand: StrandState): readonly Condition[] {
  return strandConditions(placedSections(strand), strand.strandLimits).filter(({ active }) => active);
}

function placedSections(strand: StrandState): PlacedSection[] {
  const { underway, sectionsOfRun, spool, spoolPositionMm, gaugeMm, gaugeToWinderMm, placesAreKnown } = strand;
  const speedMmPerS = placesAreKnown ? strand.speedMmPerS : Number.NaN;
  return underway
    .filter((section) => section.open || section.kind === 'blob' || section.kind === 'neck')
    .map((section) => ({
      section,
      runId: sectionsOfRun,
      spoolMm: spool === null || !placesAreKnown ? null : spoolPositionMm(spool, section.peakAtMm ?? section.fromMm),
      spoolOrdinal: spool?.ordinal ?? null,
      reachesWinderInS: reachesWinderInS(section.fromMm, gaugeMm, gaugeToWinderMm, speedMmPerS),
    }));
}
