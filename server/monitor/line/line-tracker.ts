import type { ExpectedThen } from '../../heat/expected-past.ts';
import type { FaultVisibility } from '../../heat/fault-visibility.ts';
import { HeatWatch } from '../../heat/heat-watch.ts';
import { type ScrewAndHeat, StandingHot } from '../../heat/standing-hot.ts';
import type { ThermalModel } from '../../heat/thermal-model.ts';
import type { ZoneStatus } from '../../heat/zone-status.ts';
import { type Reading, sendsTravel, valueAt } from '../../reading/reading.ts';
import type { LineSettings } from '../../settings/line-settings.ts';
import type { Stage } from '../../stage/stage.ts';
import { type StageState, StageTracker } from '../../stage/stage-tracker.ts';
import { GaugeWatch } from '../../strand/gauge-watch.ts';
import { LengthTracker } from '../../strand/length.ts';
import type { LengthContradiction } from '../../strand/length-agreement.ts';
import { canBeStrand } from '../../strand/possible-diameter.ts';
import { plainContext, type SampleContext } from '../../strand/section-detector.ts';
import { TwoAxes } from '../../strand/two-axes.ts';
import { WinderTurns, type WindingStart } from '../../strand/winder-turns.ts';
import type { LastSample } from '../ports/samples.ts';
import { heatLimits, stageOptions } from '../settings-to-parts.ts';
import { FormatWatch, type LostNames } from './format-watch.ts';

/** The last reading with the values derived from it. */
export interface LastReading {
  readonly reading: Reading;
  readonly timeMs: number;
  readonly gaugeMm: number;
  readonly diameterMm: number;
  readonly outOfRoundMm: number;
  readonly speedMmPerS: number;
}

const NO_ZONES: readonly ZoneStatus[] = [];
/** Below this speed the puller counts as stopped. */
const MOVING_MM_PER_S = 0.3;

export interface LineTrackerParts {
  readonly settings: LineSettings;
  readonly length: LengthTracker;
  readonly axes: TwoAxes;
  readonly gauge: GaugeWatch;
  readonly heat: HeatWatch;
  readonly screwAndHeat: StandingHot;
  readonly winderTurns: WinderTurns;
  readonly stage: StageTracker;
  readonly stageState: StageState;
  readonly sampleContext: SampleContext;
}

/** @param models the thermal models already learnt, by zone */
export function createLineTracker(
  settings: LineSettings,
  nowMs: number,
  models: ReadonlyMap<number, ThermalModel>,
): LineTracker {
  return new LineTracker({
    settings,
    length: new LengthTracker(settings),
    axes: new TwoAxes(settings),
    gauge: new GaugeWatch(settings),
    heat: new HeatWatch(heatLimits(settings), models),
    screwAndHeat: new StandingHot(),
    winderTurns: new WinderTurns(),
    stage: new StageTracker(stageOptions(settings)),
    stageState: {
      stage: 'stopped',
      setByUser: false,
      sinceMs: nowMs,
      missing: [],
      hotWhenFirstSeen: false,
      sameStrand: false,
      firstReadyMs: null,
      soakSkipped: null,
    },
    sampleContext: plainContext(),
  });
}

/** Follows length, gauge, heat and stage of one connection from reading to reading. */
export class LineTracker {
  #settings: LineSettings;
  #length: LengthTracker;
  readonly #axes: TwoAxes;
  readonly #gauge: GaugeWatch;
  readonly #heat: HeatWatch;
  readonly #screwAndHeat: StandingHot;
  readonly #winderTurns: WinderTurns;
  readonly #format = new FormatWatch();
  #isWinding = false;
  #stage: StageTracker;
  #stageState: StageState;
  #zones = NO_ZONES;
  /** Before names were lost, and after. */
  #allZones = NO_ZONES;
  #allNames: LostNames | null = null;
  #someZones = NO_ZONES;
  #reading: Reading | null = null;
  #diameterMm = Number.NaN;
  #outOfRoundMm = Number.NaN;
  #impossibleMm: number | null = null;
  /** Time of the last reading with a diameter, or with the strand at rest; NaN = no reading yet. */
  #diameterAtMs = Number.NaN;
  // These two are reused for every reading, for speed.
  readonly #sampleContext: SampleContext;
  readonly #stageInput = {
    timeMs: Number.NaN,
    gaugeMm: Number.NaN,
    diameterMm: Number.NaN,
    speedMmPerS: Number.NaN,
    zones: NO_ZONES,
    isWinding: false,
  };
  /** Length counted when the run started; gauge lengths of a run count from there. */
  #runStartMm = 0;
  /** The line sends speed or length. */
  #travelSent = false;

  constructor(parts: LineTrackerParts) {
    this.#settings = parts.settings;
    this.#length = parts.length;
    this.#axes = parts.axes;
    this.#gauge = parts.gauge;
    this.#heat = parts.heat;
    this.#screwAndHeat = parts.screwAndHeat;
    this.#winderTurns = parts.winderTurns;
    this.#stage = parts.stage;
    this.#stageState = parts.stageState;
    this.#sampleContext = parts.sampleContext;
  }

  /** Continues length, length counter and stage of a run after a restart of the service. */
  resume(stage: Stage, setByUser: boolean, last: LastSample): void {
    this.#length = new LengthTracker(this.#settings, {
      timeMs: last.timeMs,
      gaugeMm: last.gaugeMm,
      lengthCounterMm: last.values.len ?? null,
      speedMmPerS: last.values.v ?? null,
    });
    this.#runStartMm = 0;
    this.#travelSent = last.values.v !== undefined || last.values.len !== undefined;
    this.#stage = new StageTracker(stageOptions(this.#settings), { stage, setByUser, sinceMs: last.timeMs });
    this.#stageState = this.#stage.override(setByUser ? stage : null, last.timeMs);
  }

  setSettings(next: LineSettings): void {
    const before = this.#settings;
    this.#settings = next;
    this.#heat.setLimits(heatLimits(next));
    this.#axes.setLimits(next);
    this.#gauge.setLimits(next);
    this.#stage = new StageTracker(stageOptions(next), this.#stageState);
    if (next.setSpeedMmPerS !== before.setSpeedMmPerS) this.#restartLengthAt(next);
  }

  step(reading: Reading): void {
    const { layout, timeMs } = reading;
    this.#length.step(reading);
    if (sendsTravel(layout)) this.#travelSent = true;
    const { speedMmPerS } = this.#length;
    const axes = this.#axes;
    const dxMm = valueAt(reading, layout.diameterX);
    const dyMm = valueAt(reading, layout.diameterY);
    axes.step(timeMs, valueAt(reading, layout.diameter), dxMm, dyMm);
    const sentMm = axes.diameterMm;
    this.#impossibleMm = sentMm > 0 && !canBeStrand(sentMm, this.#settings.nominalMm) ? sentMm : null;
    const diameterMm = this.#impossibleMm === null ? sentMm : Number.NaN;
    // A gauge may send nothing while the strand stands still.
    this.#format.step(reading);
    const isStanding = speedMmPerS <= MOVING_MM_PER_S;
    const { lost } = this.#format;
    // Names that are gone say nothing about the sensors.
    if (isStanding || lost?.diameter || !Number.isNaN(diameterMm) || Number.isNaN(this.#diameterAtMs))
      this.#diameterAtMs = timeMs;
    this.#gauge.step(timeMs, this.#length.gaugeMm, diameterMm, speedMmPerS);
    this.#zones = lost?.all ? NO_ZONES : this.#namedZones(this.#heat.step(reading), lost);
    this.#screwAndHeat.step(timeMs, this.#zones, valueAt(reading, layout.screwSpeed), speedMmPerS);
    const input = this.#stageInput;
    input.timeMs = timeMs;
    input.gaugeMm = this.#length.gaugeMm;
    input.diameterMm = diameterMm;
    input.speedMmPerS = speedMmPerS;
    input.zones = this.#zones;
    this.#isWinding = this.#winderTurns.step(
      timeMs,
      this.#length.gaugeMm,
      valueAt(reading, layout.turns),
      reading.restarted,
    );
    input.isWinding = this.#isWinding;
    this.#stageState = this.#stage.step(input);
    this.#reading = reading;
    this.#diameterMm = diameterMm;
    this.#outOfRoundMm = axes.outOfRoundMm;
  }

  /** Zones whose temperature has kept its name. The same list while nothing changes. */
  #namedZones(zones: readonly ZoneStatus[], lost: LostNames | null): readonly ZoneStatus[] {
    if (lost === null) return zones;
    if (zones !== this.#allZones || lost !== this.#allNames) {
      this.#allZones = zones;
      this.#allNames = lost;
      this.#someZones = zones.filter(({ zone }) => !lost.zones.includes(zone));
    }
    return this.#someZones;
  }

  /** Sets the stage as stated by a user; null = follow the line's signs again. */
  setStage(stage: Stage | null, timeMs: number): void {
    this.#stageState = this.#stage.override(stage, timeMs);
  }

  /** The strand goes on the spool that was being wound before the line stood still, as stated by a user. */
  continueWinding(timeMs: number): void {
    this.#stageState = this.#stage.continueWinding(timeMs);
  }

  /** A run starts at this length. */
  resetLength(countedMm: number): void {
    this.#runStartMm = countedMm;
  }

  /** Strand counted since the connection was opened. */
  get countedMm(): number {
    return this.#length.gaugeMm;
  }

  get stage(): StageState {
    return this.#stageState;
  }

  get zones(): readonly ZoneStatus[] {
    return this.#zones;
  }

  get screwAndHeat(): ScrewAndHeat {
    return this.#screwAndHeat.state;
  }

  /** The thermal model of each zone learnt so far. */
  zoneModels(): ReadonlyMap<number, ThermalModel> {
    return this.#heat.models();
  }

  /** The expected temperatures of each zone over the last ten minutes. */
  expectedPast(): ReadonlyMap<number, readonly ExpectedThen[]> {
    return this.#heat.expectedPast();
  }

  /** How soon faults of each learnt zone can be seen. */
  faultVisibilities(): ReadonlyMap<number, FaultVisibility> {
    return this.#heat.visibilities();
  }

  forgetZoneModels(): void {
    this.#heat.forget();
  }

  /** null = no reading yet. */
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

  /** UTC ms; null = no reading yet. */
  get lastTimeMs(): number | null {
    return this.#reading === null ? null : this.#reading.timeMs;
  }

  /** NaN = the last reading has no usable value. */
  get diameterMm(): number {
    return this.#diameterMm;
  }

  /** |dx − dy| of the last reading; NaN with a single-axis gauge. */
  get outOfRoundMm(): number {
    return this.#outOfRoundMm;
  }

  /** Strand that has passed the gauge since the run started. */
  get gaugeMm(): number {
    return this.#length.gaugeMm - this.#runStartMm;
  }

  /** NaN = unknown. */
  get speedMmPerS(): number {
    return this.#length.speedMmPerS;
  }

  /** A possible speed or length is sent, or a speed is set, so it is known how far the strand has moved. */
  get travelIsKnown(): boolean {
    return (this.#travelSent && this.impossibleMmPerS === null) || this.#settings.setSpeedMmPerS > 0;
  }

  /** A sent speed that no strand has, and on which the length would depend, mm/s; null = none. */
  get impossibleMmPerS(): number | null {
    return this.#length.impossibleMmPerS;
  }

  /** Places on the strand are known: its travel is, and counter and speed agree. */
  get placesAreKnown(): boolean {
    return this.travelIsKnown && this.lengthContradiction === null;
  }

  /** What counter and speed say if they contradict each other, so that positions are not known; null = they don't. */
  get lengthContradiction(): LengthContradiction | null {
    return this.#length.contradiction;
  }

  /** What no longer arrives under a name that is understood; null = nothing is missing because of its name. */
  get lostNames(): LostNames | null {
    return this.#format.lost;
  }

  /** Jumps of the length counter that nothing supported, and that moved no position. */
  get lengthJumps(): number {
    return this.#length.counterJumps;
  }

  /** At the last reading the winder's turns were recognised. */
  get isWinding(): boolean {
    return this.#isWinding;
  }

  /** Where winding started, if the winder's turns showed that at the last reading. */
  get windingStart(): WindingStart | null {
    const { windingStart: start } = this.#winderTurns;
    return start === null ? null : { ...start, gaugeMm: start.gaugeMm - this.#runStartMm };
  }

  /** Strand that passed unmeasured just before the last reading. */
  get gapMm(): number {
    return this.#length.gapMm;
  }

  /** What the section detector needs besides the last diameter. The object is reused. */
  get sampleContext(): SampleContext {
    const context = this.#sampleContext;
    const gauge = this.#gauge;
    context.gapMm = this.gapMm;
    context.outOfRoundMm = this.#outOfRoundMm;
    context.speedMmPerS = this.speedMmPerS;
    context.frozenSinceMm = gauge.frozen ? gauge.sameSinceMm - this.#runStartMm : Number.NaN;
    context.frozenSinceTimeMs = gauge.sameSinceTimeMs;
    const isBlind = !Number.isNaN(gauge.blindFromMm);
    context.blindSinceMm = isBlind ? Math.max(0, gauge.blindSinceMm - this.#runStartMm) : Number.NaN;
    context.blindSinceTimeMs = gauge.blindSinceTimeMs;
    context.mayBeBeyond = gauge.mayBeBeyond;
    return context;
  }

  get gauge(): Pick<GaugeWatch, 'frozen' | 'saturated' | 'sameForS' | 'blindFromMm'> {
    return this.#gauge;
  }

  /** The axis of the gauge that is dead while the other one measures. */
  get deadAxis(): 'dx' | 'dy' | null {
    return this.#axes.dead;
  }

  /** The last value sent as a diameter, if it cannot be one; else null. */
  get impossibleMm(): number | null {
    return this.#impossibleMm;
  }

  /** How long readings have come without a diameter while the strand moved. */
  get noDiameterForS(): number {
    return this.#reading === null ? 0 : (this.#reading.timeMs - this.#diameterAtMs) / 1000;
  }

  get strandIsMoving(): boolean {
    return this.speedMmPerS > MOVING_MM_PER_S && this.#diameterMm >= this.#settings.strandPresentMm;
  }

  /** No zone is heated and nothing moves. */
  get atRest(): boolean {
    return !(this.speedMmPerS > MOVING_MM_PER_S) && this.#zones.every((zone) => !((zone.setpointC ?? 0) > 0));
  }

  /** Lengths are counted by a new set speed from here on. */
  #restartLengthAt(settings: LineSettings): void {
    const { last } = this;
    this.#length = new LengthTracker(
      settings,
      last === null
        ? undefined
        : {
            timeMs: last.timeMs,
            gaugeMm: this.#length.gaugeMm,
            lengthCounterMm: nullIfNaN(valueAt(last.reading, last.reading.layout.lengthCounter)),
            speedMmPerS: settings.setSpeedMmPerS,
          },
    );
  }
}

function nullIfNaN(value: number): number | null {
  return Number.isNaN(value) ? null : value;
}
