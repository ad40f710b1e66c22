import type { ZoneStatus } from '../heat/zone-status.ts';
import { Settling } from '../strand/settling.ts';
import type { Stage } from './stage.ts';
import { allAtHeatSinceMs, isAtHeat, isHeated, missingHeat, missingSoak } from './stage-readiness.ts';

/** How long a sign must last before it moves the stage. */
const HEATING_AFTER_S = 3;
const COLD_AFTER_S = 60;
const STRAND_AFTER_S = 2;
/** A short break is rethreaded within this (common practice, no source). */
const LOST_AFTER_S = 30;
const STILL_AFTER_S = 60;
/** Below this speed the puller is standing still. */
const MOVING_MM_PER_S = 0.3;
/** Where neither a speed nor a length is known, the strand counts as settled after this time instead. */
const SETTLE_S = 60;
/** How often the list of what is missing is updated. */
const UPDATE_MS = 250;

export interface StageOptions {
  readonly nominalMm: number;
  readonly toleranceMm: number;
  readonly strandPresentMm: number;
  /** Strand within tolerance, in a row, that makes it settled, mm. */
  readonly settleLengthMm: number;
  /** Time at heat before the screw should turn, min. */
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
  #present = false;
  #advancedMs = Number.NaN;
  #lengthKnown = false;
  /** How long each sign has lasted without a break, s. */
  #heatedS = 0;
  #coldS = 0;
  #strandS = 0;
  #lostS = 0;
  #stillS = 0;

  /** @param initial the stage before the service restarted */
  constructor(options: StageOptions, initial?: { stage: Stage; setByUser: boolean; sinceMs: number }) {
    this.#options = options;
    this.#settling = new Settling(options.nominalMm, options.toleranceMm);
    this.#stage = initial?.stage ?? 'stopped';
    this.#setByUser = initial?.setByUser ?? false;
    this.#sinceMs = initial?.sinceMs ?? Number.NaN;
  }

  step(input: StageInput): StageState {
    const { timeMs, gaugeMm, diameterMm, speedMmPerS, zones } = input;
    const first = Number.isNaN(this.#lastTimeMs);
    // A pause in the data proves nothing, so it counts for two seconds at most.
    const seconds = first ? 0 : Math.min(Math.max(timeMs - this.#lastTimeMs, 0) / 1000, 2);
    if (Number.isNaN(this.#sinceMs)) this.#sinceMs = timeMs;
    this.#lastTimeMs = timeMs;

    if (!Number.isNaN(diameterMm)) this.#present = diameterMm >= this.#options.strandPresentMm;
    if (gaugeMm > this.#lastGaugeMm) {
      this.#advancedMs = timeMs;
      this.#lengthKnown = true;
    }
    this.#lastGaugeMm = gaugeMm;
    const moving = this.#isMoving(timeMs, speedMmPerS);

    if (!this.#present) this.#settling.reset();
    else if (moving && !Number.isNaN(diameterMm)) this.#settling.step(timeMs, gaugeMm, diameterMm);

    const heated = zones.some(isHeated);
    this.#heatedS = heated ? this.#heatedS + seconds : 0;
    this.#coldS = heated ? 0 : this.#coldS + seconds;
    this.#lostS = this.#present ? 0 : this.#lostS + seconds;
    this.#stillS = moving ? 0 : this.#stillS + seconds;
    this.#strandS = this.#present && moving ? this.#strandS + seconds : 0;

    if (!this.#setByUser) {
      const next = this.#next(heated, zones, input.isWinding === true);
      if (next !== this.#stage) this.#turnTo(next, timeMs);
    }
    return this.#update(timeMs, zones);
  }

  /** Sets the stage by hand until the user returns to automatic (`null`). */
  override(stage: Stage | null, timeMs: number): StageState {
    this.#setByUser = stage !== null;
    if (stage !== null && stage !== this.#stage) this.#turnTo(stage, timeMs);
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
        if (this.#strandS >= STRAND_AFTER_S) return 'purging';
        return this.#heatedS >= HEATING_AFTER_S ? 'heating' : 'stopped';
      case 'heating':
        return this.#strandS >= STRAND_AFTER_S ? 'purging' : idle;
      case 'purging':
        if (this.#isLostOrStill()) return this.#idleStage(heated);
        return isWinding || (this.#isSettled() && zones.every(isAtHeat)) ? 'winding' : 'purging';
      case 'winding':
        return this.#isLostOrStill() ? this.#idleStage(heated) : 'winding';
    }
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

  #turnTo(stage: Stage, timeMs: number): void {
    this.#stage = stage;
    this.#sinceMs = timeMs;
    this.#updatedMs = Number.NaN;
    if (stage !== 'winding' && stage !== 'purging') this.#settling.reset();
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
    if (since !== null && this.#stage !== 'purging') missing.push(...missingSoak(since, this.#options.soakMin, timeMs));
    if (!this.#present) missing.push('no strand in the gauge');
    else if (this.#stillS > 0) missing.push('strand stands still');
    else if (!this.#isSettled()) missing.push(this.#notSettled());
    return missing;
  }

  #notSettled(): string {
    if (!this.#lengthKnown)
      return `strand not settled: ${Math.floor(this.#settling.settledS)} s of ${SETTLE_S} s within tolerance`;
    const settled = Math.floor(this.#settling.settledMm / 100) / 10;
    const wanted = this.#options.settleLengthMm / 1000;
    return `strand not settled: ${settled.toFixed(1)} m of ${wanted.toFixed(1)} m within tolerance`;
  }

  #current(): StageState {
    const state = this.#state;
    if (
      state !== null &&
      state.stage === this.#stage &&
      state.setByUser === this.#setByUser &&
      state.missing === this.#missing
    )
      return state;
    this.#state = { stage: this.#stage, setByUser: this.#setByUser, sinceMs: this.#sinceMs, missing: this.#missing };
    return this.#state;
  }
}
