import type { ExpectedThen } from '../heat/expected-past.ts';
import { HeatWatch } from '../heat/heat-watch.ts';
import { type ScrewAndHeat, StandingHot } from '../heat/standing-hot.ts';
import type { ThermalModel } from '../heat/thermal-model.ts';
import type { ZoneStatus } from '../heat/zone-status.ts';
import { type Reading, valueAt } from '../reading/reading.ts';
import type { LineSettings } from '../settings/line-settings.ts';
import type { Stage } from '../stage/stage.ts';
import { type StageState, StageTracker } from '../stage/stage-tracker.ts';
import { GaugeWatch } from '../strand/gauge-watch.ts';
import { LengthTracker } from '../strand/length.ts';
import { canBeStrand } from '../strand/possible-diameter.ts';
import { plainContext, type SampleContext } from '../strand/section-detector.ts';
import { WinderTurns, type WindingBegin } from '../strand/winder-turns.ts';
import type { LastSample } from './ports/samples.ts';
import { heatLimits, stageOptions } from './settings-to-parts.ts';

/** The last reading, as the rooms understood it. */
export interface LastReading {
  readonly reading: Reading;
  readonly timeMs: number;
  readonly gaugeMm: number;
  readonly diameterMm: number;
  readonly outOfRoundMm: number;
  readonly speedMmPerS: number;
}

const NO_ZONES: readonly ZoneStatus[] = [];
/** A puller that is slower than this stands. */
const MOVING_MM_PER_S = 0.3;

/** The rooms that follow one connection of the line from reading to reading: length, gauge, heat, stage. */
export class LineTrackers {
  #settings: LineSettings;
  #length: LengthTracker;
  readonly #gauge: GaugeWatch;
  readonly #heat: HeatWatch;
  readonly #standing = new StandingHot();
  readonly #turns = new WinderTurns();
  #winds = false;
  readonly #context = plainContext();
  #stage: StageTracker;
  #state: StageState;
  #zones = NO_ZONES;
  #reading: Reading | null = null;
  #diameterMm = Number.NaN;
  #outOfRoundMm = Number.NaN;
  #impossibleMm: number | null = null;
  /** When a diameter came last; NaN = nothing has come yet. */
  #diameterAtMs = Number.NaN;
  // Used again for every reading, for speed.
  readonly #input = {
    timeMs: Number.NaN,
    gaugeMm: Number.NaN,
    diameterMm: Number.NaN,
    speedMmPerS: Number.NaN,
    zones: NO_ZONES,
    winds: false,
  };
  /** What the length tracker had counted when the run began: gauge lengths of a run count from its beginning. */
  #zeroMm = 0;

  /** `models`: what is known of each zone. */
  constructor(settings: LineSettings, nowMs: number, models: ReadonlyMap<number, ThermalModel>) {
    this.#settings = settings;
    this.#length = new LengthTracker(settings);
    this.#gauge = new GaugeWatch(settings);
    this.#heat = new HeatWatch(heatLimits(settings), models);
    this.#stage = new StageTracker(stageOptions(settings));
    this.#state = { stage: 'stopped', setByUser: false, sinceMs: nowMs, missing: [] };
  }

  /** Go on where a run was left: its length, its counter, its stage. */
  resume(stage: Stage, setByUser: boolean, last: LastSample): void {
    this.#length = new LengthTracker(this.#settings, {
      timeMs: last.timeMs,
      gaugeMm: last.gaugeMm,
      lengthCounterMm: last.values.len ?? null,
      speedMmPerS: last.values.v ?? null,
    });
    this.#zeroMm = 0;
    this.#stage = new StageTracker(stageOptions(this.#settings), { stage, setByUser, sinceMs: last.timeMs });
    this.#state = this.#stage.person(setByUser ? stage : null, last.timeMs);
  }

  setSettings(next: LineSettings): void {
    const before = this.#settings;
    this.#settings = next;
    this.#heat.setLimits(heatLimits(next));
    this.#gauge.setLimits(next);
    this.#stage = new StageTracker(stageOptions(next), this.#state);
    if (next.setSpeedMmPerS !== before.setSpeedMmPerS) this.#countFromHere(next);
  }

  step(reading: Reading): void {
    const { layout, timeMs } = reading;
    this.#length.step(reading);
    const { speedMmPerS } = this.#length;
    const sentMm = valueAt(reading, layout.diameter);
    this.#impossibleMm = sentMm > 0 && !canBeStrand(sentMm, this.#settings.nominalMm) ? sentMm : null;
    const diameterMm = this.#impossibleMm === null ? sentMm : Number.NaN;
    if (!Number.isNaN(diameterMm) || Number.isNaN(this.#diameterAtMs)) this.#diameterAtMs = timeMs;
    const outOfRoundMm = Math.abs(valueAt(reading, layout.diameterX) - valueAt(reading, layout.diameterY));
    this.#gauge.step(timeMs, this.#length.gaugeMm, diameterMm, speedMmPerS);
    this.#zones = this.#heat.step(reading);
    this.#standing.step(timeMs, this.#zones, valueAt(reading, layout.screwSpeed), speedMmPerS);
    const input = this.#input;
    input.timeMs = timeMs;
    input.gaugeMm = this.#length.gaugeMm;
    input.diameterMm = diameterMm;
    input.speedMmPerS = speedMmPerS;
    input.zones = this.#zones;
    this.#winds = this.#turns.step(timeMs, this.#length.gaugeMm, valueAt(reading, layout.turns));
    input.winds = this.#winds;
    this.#state = this.#stage.step(input);
    this.#reading = reading;
    this.#diameterMm = diameterMm;
    this.#outOfRoundMm = outOfRoundMm;
  }

  /** A person's word about the stage; null = by itself again. */
  person(stage: Stage | null, timeMs: number): void {
    this.#state = this.#stage.person(stage, timeMs);
  }

  /** A run begins here. */
  countFromZero(): void {
    this.#zeroMm = this.#length.gaugeMm;
  }

  get stage(): StageState {
    return this.#state;
  }

  get zones(): readonly ZoneStatus[] {
    return this.#zones;
  }

  /** What heat and screw mean together. */
  get standing(): ScrewAndHeat {
    return this.#standing.state;
  }

  /** What is known of each zone. */
  zoneModels(): ReadonlyMap<number, ThermalModel> {
    return this.#heat.models();
  }

  /** Where each zone's reading was expected over the last ten minutes. */
  expectedPast(): ReadonlyMap<number, readonly ExpectedThen[]> {
    return this.#heat.expectedPast();
  }

  forgetZoneModels(): void {
    this.#heat.forget();
  }

  /** null = no reading so far. */
  get last(): LastReading | null {
    const reading = this.#reading;
    if (reading === null) return null;
    return {
      reading,
      timeMs: reading.timeMs,
      gaugeMm: this.gaugeMm,
      diameterMm: this.#diameterMm,
      outOfRoundMm: this.#outOfRoundMm,
      speedMmPerS: this.speedMmPerS,
    };
  }

  /** UTC ms of the last reading; null = none so far. */
  get lastTimeMs(): number | null {
    return this.#reading === null ? null : this.#reading.timeMs;
  }

  /** Of the last reading, mm; NaN = no value. */
  get diameterMm(): number {
    return this.#diameterMm;
  }

  /** |dx − dy| of the last reading, mm; NaN with a gauge of one axis. */
  get outOfRoundMm(): number {
    return this.#outOfRoundMm;
  }

  /** Strand that passed the gauge since the run began, mm. */
  get gaugeMm(): number {
    return this.#length.gaugeMm - this.#zeroMm;
  }

  /** NaN = unknown. */
  get speedMmPerS(): number {
    return this.#length.speedMmPerS;
  }

  /** At the last reading the winder was found to count turns. */
  get winds(): boolean {
    return this.#winds;
  }

  /** Where it took up strand, if that was seen at the last reading. */
  get windingBegan(): WindingBegin | null {
    const { began } = this.#turns;
    return began === null ? null : { ...began, gaugeMm: began.gaugeMm - this.#zeroMm };
  }

  /** Strand that passed unmeasured just before the last reading, mm. */
  get gapMm(): number {
    return this.#length.gapMm;
  }

  /** What the last reading comes with for the strand. One object, filled anew each time. */
  get sampleContext(): SampleContext {
    const context = this.#context;
    const gauge = this.#gauge;
    context.gapMm = this.gapMm;
    context.outOfRoundMm = this.#outOfRoundMm;
    context.speedMmPerS = this.speedMmPerS;
    context.frozenSinceMm = gauge.frozen ? gauge.sameSinceMm - this.#zeroMm : Number.NaN;
    context.frozenSinceTimeMs = gauge.sameSinceTimeMs;
    return context;
  }

  get gauge(): { readonly frozen: boolean; readonly saturated: boolean; readonly sameForS: number } {
    return this.#gauge;
  }

  /** What came last for a diameter and can be none, mm; null = a diameter, or nothing. */
  get impossibleMm(): number | null {
    return this.#impossibleMm;
  }

  /** Readings have come without a diameter for so long, s. */
  get noDiameterForS(): number {
    return this.#reading === null ? 0 : (this.#reading.timeMs - this.#diameterAtMs) / 1000;
  }

  /** Strand moves through the gauge. */
  get strandMoves(): boolean {
    return this.speedMmPerS > MOVING_MM_PER_S && this.#diameterMm >= this.#settings.strandPresentMm;
  }

  /** Nothing is heated and nothing moves. */
  get atRest(): boolean {
    return !(this.speedMmPerS > MOVING_MM_PER_S) && this.#zones.every((zone) => !((zone.setpointC ?? 0) > 0));
  }

  /** Another set speed counts from here on. */
  #countFromHere(settings: LineSettings): void {
    const { last } = this;
    this.#length = new LengthTracker(
      settings,
      last === null
        ? undefined
        : {
            timeMs: last.timeMs,
            gaugeMm: this.#length.gaugeMm,
            lengthCounterMm: orNull(valueAt(last.reading, last.reading.layout.lengthCounter)),
            speedMmPerS: settings.setSpeedMmPerS,
          },
    );
  }
}

const orNull = (value: number): number | null => (Number.isNaN(value) ? null : value);
