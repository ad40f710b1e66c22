import type { ZoneStatus } from '../heat/zone-status.ts';
import { Settling } from '../strand/settling.ts';
import type { Stage } from './stage.ts';
import { allAtHeatSinceMs, isAtHeat, isHeated, missingHeat, missingSoak, skippedSoak } from './stage-readiness.ts';

/** How long a sign must last before it moves the stage. */
const HEATING_AFTER_S = 3;
const COLD_AFTER_S = 60;
const STRAND_AFTER_S = 2;
/** A short break is rethreaded within this (common practice, no source). */
const LOST_AFTER_S = 30;
/** A gauge without strand for longer was empty: what comes later may be other strand. */
const EMPTY_AFTER_S = 1;
const STILL_AFTER_S = 60;
/** Below this speed the puller is standing still. */
const MOVING_MM_PER_S = 0.3;
/** Where neither a speed nor a length is known, the strand counts as settled after this time instead. */
const SETTLE_S = 60;
const SPEED_MISSING = 'set the strand speed in Set-up, or places on the spool stay unknown';
/** How often the list of what is missing is updated. */
const UPDATE_MS = 250;
/** A zone that is at heat this soon was so before the line was first seen. */
const FIRST_SIGHT_MS = 2000;

export interface StageOptions {
  readonly nominalMm: number;
  readonly toleranceMm: number;
  readonly strandPresentMm: number;
  /** Strand within tolerance, in a row, that makes it settled, mm. */
  readonly settleLengthMm: number;
  /** Time at temperature before the screw should turn, min. */
  readonly soakMin: number;
  /** From the hopper. */
  readonly zoneNames: readonly string[];
}

export interface StageState {
  readonly stage: Stage;
  /** Set by a user; it stays until they return to automatic. */
  readonly setByUser: boolean;
  readonly sinceMs: number;
  /** What is missing before winding, as phrases; empty = ready, or winding. */
  readonly missing: readonly string[];
  /** The zones were at temperature when the line was first seen: whether they have soaked is not known. */
  readonly hotWhenFirstSeen: boolean;
  /**
   * While the line stands: the strand in the gauge is still the one that was being wound. While winding: winding continued
   * with that strand, so it is on the same spool.
   */
  readonly sameStrand: boolean;
  /** When this strand was first ready to wind, UTC ms; null = it has not been, or winding started without it. */
  readonly firstReadyMs: number | null;
  /** Says how much of the soak was left when the strand came; null = nothing, or not known. */
  readonly soakSkipped: string | null;
}

export interface StageInput {
  readonly timeMs: number;
  readonly gaugeMm: number;
  /** NaN = no value. */
  readonly diameterMm: number;
  /** NaN = unknown. */
  readonly speedMmPerS: number;
  readonly zones: readonly ZoneStatus[];
  /** The winder's turn counter is counting. */
  readonly isWinding?: boolean;
}

/** Follows the stage of the line. Returns the same object while nothing in it changes. */
export class StageTracker {
  readonly #options: StageOptions;
  readonly #settling: Settling;
  #stage: Stage;
  #setByUser: boolean;
  #sinceMs: number;
  #missing: readonly string[] = [];
  #updatedMs = Number.NaN;
  #state: StageState | null = null;

  #lastTimeMs = Number.NaN;
  #lastGaugeMm = Number.NaN;
  #lastDiameterMm = Number.NaN;
  #present = false;
  #advancedMs = Number.NaN;
  #lengthKnown = false;
  #speedKnown = false;
  /** The zones of the last reading; `HeatWatch` returns the same list until something changes. */
  #zones: readonly ZoneStatus[] | null = null;
  #heated = false;
  #hotWhenFirstSeen = false;
  /** How long each sign has lasted without a break, s. */
  #heatedS = 0;
  #coldS = 0;
  #strandS = 0;
  #lostS = 0;
  #stillS = 0;
  /** How long before this reading no strand was seen in the gauge: there was none, no diameter or no reading, s. */
  #unseenS = 0;
  /** Of the first reading, UTC ms. */
  #firstSeenMs = Number.NaN;
  #sameStrand: boolean;
  #firstReadyMs: number | null;
  #soakSkipped: string | null;

  /** @param initial the stage before the service restarted, or under other settings */
  constructor(
    options: StageOptions,
    initial?: Pick<StageState, 'stage' | 'setByUser' | 'sinceMs'> &
      Partial<Pick<StageState, 'sameStrand' | 'firstReadyMs' | 'soakSkipped'>>,
  ) {
    this.#options = options;
    this.#settling = new Settling(options.nominalMm, options.toleranceMm);
    this.#stage = initial?.stage ?? 'stopped';
    this.#setByUser = initial?.setByUser ?? false;
    this.#sinceMs = initial?.sinceMs ?? Number.NaN;
    this.#sameStrand = initial?.sameStrand ?? false;
    this.#firstReadyMs = initial?.firstReadyMs ?? null;
    this.#soakSkipped = initial?.soakSkipped ?? null;
  }

  step(input: StageInput): StageState {
    const { timeMs, gaugeMm, diameterMm, speedMmPerS, zones } = input;
    const first = Number.isNaN(this.#lastTimeMs);
    // A pause in the data proves nothing, so it counts for two seconds at most.
    const pauseS = first ? 0 : Math.max(timeMs - this.#lastTimeMs, 0) / 1000;
    const seconds = Math.min(pauseS, 2);
    if (Number.isNaN(this.#sinceMs)) this.#sinceMs = timeMs;
    if (first) this.#firstSeenMs = timeMs;
    this.#lastTimeMs = timeMs;

    if (!Number.isNaN(diameterMm)) this.#present = diameterMm >= this.#options.strandPresentMm;
    if (gaugeMm > this.#lastGaugeMm) {
      this.#advancedMs = timeMs;
      this.#lengthKnown = true;
    }
    this.#lastGaugeMm = gaugeMm;
    if (!Number.isNaN(speedMmPerS)) this.#speedKnown = true;
    const moving = this.#isMoving(timeMs, speedMmPerS);

    if (!this.#present) this.#settling.reset();
    else if (moving && !Number.isNaN(diameterMm)) this.#settling.step(timeMs, gaugeMm, diameterMm);

    if (zones !== this.#zones) {
      this.#zones = zones;
      this.#heated = zones.some(isHeated);
      const hotSinceMs = allAtHeatSinceMs(zones);
      this.#hotWhenFirstSeen = hotSinceMs !== null && this.#isFirstSight(hotSinceMs);
    }
    const heated = this.#heated;
    this.#heatedS = heated ? this.#heatedS + seconds : 0;
    this.#coldS = heated ? 0 : this.#coldS + seconds;
    this.#lostS = this.#present ? 0 : this.#lostS + seconds;
    this.#stillS = moving ? 0 : this.#stillS + seconds;
    this.#strandS = this.#present && moving ? this.#strandS + seconds : 0;
    this.#unseenS = (this.#lastDiameterMm >= this.#options.strandPresentMm ? 0 : this.#unseenS) + pauseS;
    this.#lastDiameterMm = diameterMm;
    if (this.#stage !== 'winding' && !this.#isSeen()) this.#sameStrand = false;
    // Once for each strand: at the edge of the tolerance it would come and go.
    if (this.#stage === 'purging' && this.#isReady(zones)) this.#firstReadyMs ??= timeMs;

    if (!this.#setByUser) {
      const next = this.#next(heated, zones, input.isWinding === true);
      if (next !== this.#stage) this.#turnTo(next, timeMs);
    }
    return this.#update(timeMs, zones);
  }

  /** A user stated that the strand goes on the spool that was being wound before the line stood still. */
  continueWinding(timeMs: number): StageState {
    this.#setByUser = false;
    if (this.#stage !== 'winding') this.#turnTo('winding', timeMs);
    this.#sameStrand = true;
    this.#missing = [];
    this.#lostS = 0;
    this.#stillS = 0;
    return this.#current();
  }

  /** Sets the stage by hand until the user returns to automatic (`null`). */
  override(stage: Stage | null, timeMs: number): StageState {
    this.#setByUser = stage !== null;
    if (stage !== null && stage !== this.#stage) {
      this.#turnTo(stage, timeMs);
      this.#sameStrand = false;
    }
    if (Number.isNaN(this.#sinceMs)) this.#sinceMs = timeMs;
    // Signs from before must not change the stage at the moment it becomes automatic again.
    this.#lostS = 0;
    this.#stillS = 0;
    this.#coldS = 0;
    if (this.#stage === 'winding') this.#missing = [];
    return this.#current();
  }

  #isMoving(timeMs: number, speedMmPerS: number): boolean {
    if (!Number.isNaN(speedMmPerS)) return speedMmPerS > MOVING_MM_PER_S;
    if (this.#lengthKnown) return timeMs - this.#advancedMs < 3000;
    // With neither speed nor length, strand in the gauge is taken to be moving.
    return this.#present;
  }

  #next(heated: boolean, zones: readonly ZoneStatus[], isWinding: boolean): Stage {
    const idle: Stage = heated || this.#coldS < COLD_AFTER_S ? 'heating' : 'stopped';
    switch (this.#stage) {
      case 'stopped':
        if (this.#strandS >= STRAND_AFTER_S) return this.#madeStage();
        return this.#heatedS >= HEATING_AFTER_S ? 'heating' : 'stopped';
      case 'heating':
        return this.#strandS >= STRAND_AFTER_S ? this.#madeStage() : idle;
      case 'purging':
        if (this.#isLostOrStill()) return this.#idleStage(heated);
        return isWinding || this.#isReady(zones) ? 'winding' : 'purging';
      case 'winding':
        return this.#isLostOrStill() ? this.#idleStage(heated) : 'winding';
    }
  }

  /** The stage in which strand is made again. */
  #madeStage(): Stage {
    return this.#sameStrand ? 'winding' : 'purging';
  }

  /** The strand has been in the gauge all the time, except for moments in which none could have been cut and threaded again. */
  #isSeen(): boolean {
    return this.#lostS <= EMPTY_AFTER_S && this.#unseenS <= LOST_AFTER_S;
  }

  #isLostOrStill(): boolean {
    return this.#lostS >= LOST_AFTER_S || this.#stillS >= STILL_AFTER_S;
  }

  #idleStage(heated: boolean): Stage {
    return heated ? 'heating' : 'stopped';
  }

  #isSettled(): boolean {
    if (this.#lengthKnown) return this.#settling.settledMm >= this.#options.settleLengthMm;
    return this.#settling.settledS >= SETTLE_S;
  }

  #isReady(zones: readonly ZoneStatus[]): boolean {
    return this.#isSettled() && zones.every(isAtHeat);
  }

  #turnTo(stage: Stage, timeMs: number): void {
    if (this.#stage === 'winding') this.#sameStrand = this.#isSeen();
    if (stage === 'heating' || stage === 'stopped') {
      this.#firstReadyMs = null;
      this.#soakSkipped = null;
    } else if (this.#stage === 'heating' && !this.#wasHotWhenFirstSeen(timeMs)) {
      this.#soakSkipped = skippedSoak(this.#zones ?? [], this.#options.soakMin, timeMs);
    }
    this.#stage = stage;
    this.#sinceMs = timeMs;
    this.#updatedMs = Number.NaN;
    if (stage !== 'winding' && stage !== 'purging') this.#settling.reset();
  }

  /** A line that was at heat, or already running, when it was first seen may well have soaked. */
  #wasHotWhenFirstSeen(timeMs: number): boolean {
    return this.#isFirstSight(allAtHeatSinceMs(this.#zones ?? []) ?? timeMs);
  }

  #isFirstSight(timeMs: number): boolean {
    return Math.abs(timeMs - this.#firstSeenMs) <= FIRST_SIGHT_MS;
  }

  #update(timeMs: number, zones: readonly ZoneStatus[]): StageState {
    if (timeMs - this.#updatedMs < UPDATE_MS) return this.#current();
    this.#updatedMs = timeMs;
    const missing = this.#stage === 'winding' ? [] : this.#listMissing(timeMs, zones);
    const old = this.#missing;
    if (missing.length !== old.length || missing.some((phrase, i) => phrase !== old[i])) this.#missing = missing;
    return this.#current();
  }

  #listMissing(timeMs: number, zones: readonly ZoneStatus[]): string[] {
    const missing = missingHeat(zones, this.#options.zoneNames);
    // The soak matters before the screw turns; once strand comes, it is over.
    const since = allAtHeatSinceMs(zones);
    if (since !== null && this.#stage !== 'purging') {
      const soak = { soakMin: this.#options.soakMin, hotWhenFirstSeen: this.#hotWhenFirstSeen };
      missing.push(...missingSoak(since, soak, timeMs));
    }
    if (this.#present && !this.#lengthKnown && !this.#speedKnown) missing.push(SPEED_MISSING);
    if (!this.#present) missing.push('no strand in the gauge yet');
    else if (this.#stillS > 0) missing.push('the strand is standing still');
    else if (!this.#isSettled()) missing.push(this.#notSettled());
    return missing;
  }

  #notSettled(): string {
    if (!this.#lengthKnown)
      return `the strand must settle (${Math.floor(this.#settling.settledS)} of ${SETTLE_S} s within tolerance)`;
    const settled = Math.floor(this.#settling.settledMm / 100) / 10;
    const wanted = this.#options.settleLengthMm / 1000;
    return `the strand must settle (${settled.toFixed(1)} of ${wanted.toFixed(1)} m within tolerance)`;
  }

  #current(): StageState {
    const state = this.#state;
    const hotWhenFirstSeen = this.#hotWhenFirstSeen;
    if (
      state !== null &&
      state.stage === this.#stage &&
      state.setByUser === this.#setByUser &&
      state.sameStrand === this.#sameStrand &&
      state.firstReadyMs === this.#firstReadyMs &&
      state.soakSkipped === this.#soakSkipped &&
      state.missing === this.#missing &&
      state.hotWhenFirstSeen === hotWhenFirstSeen
    )
      return state;
    this.#state = {
      stage: this.#stage,
      setByUser: this.#setByUser,
      sinceMs: this.#sinceMs,
      missing: this.#missing,
      hotWhenFirstSeen,
      sameStrand: this.#sameStrand,
      firstReadyMs: this.#firstReadyMs,
      soakSkipped: this.#soakSkipped,
    };
    return this.#state;
  }
}
