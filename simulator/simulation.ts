/**
 * One simulated line with its measuring device and cable.
 *
 *   scenario ──► script player ──► line ──► device ──► cable ──► raw text
 *                                   └─────► truth
 *
 * The same options always result in the same bytes and the same truth, however the simulation is stepped.
 */

import { isRole, ROLES, type Role } from '../server/reading/names.ts';
import { Cable } from './device/cable.ts';
import { Device, defaultFields } from './device/device.ts';
import { LINE_SHAPES, type LineShape } from './device/line-format.ts';
import { Line } from './model/line.ts';
import { STANDARD_PLANT, scatterPlant } from './model/plant.ts';
import { Random } from './model/random.ts';
import { STRAND_STEPS_PER_S } from './model/steps.ts';
import { type OpenEvent, type TruthEvent, TruthLog } from './model/truth.ts';
import { findScenario } from './scenarios/index.ts';
import type { Action, Scenario } from './scenarios/scenario.ts';
import { ScriptPlayer } from './scenarios/script-player.ts';
import { SimulatorInputError } from './simulator-input-error.ts';

export interface SimulationOptions {
  /** A known name, or any other scenario. */
  readonly scenario: string | Scenario;
  /** An integer ≥ 0; default 1. */
  readonly seed?: number;
  /** Reading lines per second, 0.1 to 200; default 50. */
  readonly rateHz?: number;
  /** Default `named`. */
  readonly shape?: LineShape;
  /** Whether lines end in a checksum; by default only those of the shape `named` do. */
  readonly checksum?: boolean;
  /** Strand between gauge and winder, mm; default 1200. */
  readonly gaugeToWinderMm?: number;
  /** 2 = the gauge has two axes, and lines have `dx` and `dy`. */
  readonly axes?: 1 | 2;
  /** Fields of a line, in their order. */
  readonly fields?: readonly Role[];
  /** Additional fields after those, such as `turns` or `bar`. */
  readonly also?: readonly string[];
  readonly lineEnd?: '\n' | '\r\n';
  /** Device clock at the start, ms. Above 0, the device is already running and sends no banner. */
  readonly startMs?: number;
  /** Number of the first line. */
  readonly startN?: number;
  /** How fast the device's clock is, parts per million. */
  readonly clockErrorPpm?: number;
  /** Called once for each event, when it is complete. */
  readonly onTruth?: (event: TruthEvent) => void;
}

interface SimulationCounts {
  /** Samples with something sent. */
  readonly sent: number;
  /** How many of them the cable damaged. */
  readonly damaged: number;
  readonly restarts: number;
}

export interface Simulation {
  readonly scenario: Scenario;
  readonly rateHz: number;
  /** Simulated seconds so far. */
  readonly timeS: number;
  /** The simulated line, with everything that readings do not show. */
  readonly line: Line;
  readonly counts: SimulationCounts;
  /** Header line of the shape `columns`, for readers that connect late, with its line end; null = another shape. */
  readonly header: string | null;
  /**
   * Advance by one sample.
   * @returns the text received over the cable, one character per byte (latin1): usually one line with its line end, but
   * also several lines, a damaged one, or nothing while the device boots
   */
  step(): string;
  /** Advance to the last sample at or before a simulated time. @returns the text received until then */
  advanceTo(timeS: number): string;
  /** All events at the gauge so far. */
  truth(): TruthEvent[];
  /** Report every remaining event to `onTruth`, even those that have not ended. */
  finish(): void;
}

/** @throws SimulatorInputError for an unknown scenario or an option out of its range */
export function createSimulation(options: SimulationOptions): Simulation {
  const scenario = typeof options.scenario === 'string' ? findScenario(options.scenario) : options.scenario;
  return new LineSimulation(scenario, options);
}

class LineSimulation implements Simulation {
  readonly scenario: Scenario;
  readonly rateHz: number;
  readonly line: Line;
  readonly #device: Device;
  readonly #cable: Cable;
  readonly #player: ScriptPlayer;
  readonly #truth: TruthLog;
  #samples = 0;
  #sent = 0;
  #restarts = 0;
  #noise: OpenEvent | null = null;

  constructor(scenario: Scenario, options: SimulationOptions) {
    const seed = wholeNumber('seed', options.seed ?? 1);
    const axes = options.axes ?? 1;
    const shape = options.shape ?? 'named';
    if (!LINE_SHAPES.includes(shape)) throw notOneOf('shape', shape, LINE_SHAPES);
    if (axes !== 1 && axes !== 2) throw notOneOf('axes', String(axes), ['1', '2']);
    this.scenario = scenario;
    this.rateHz = numberIn('rate', options.rateHz ?? 50, 0.1, STRAND_STEPS_PER_S, 'lines per second');
    this.#truth = new TruthLog(options.onTruth);
    this.line = new Line({
      plant: scatterPlant({ ...STANDARD_PLANT, ...scenario.plant }, Random.stream(seed, 'plant')),
      seed,
      startC: scenario.startC,
      gaugeToWinderMm: numberIn('gauge-to-winder path', options.gaugeToWinderMm ?? 1200, 0, 20_000, 'mm'),
      axes,
      truth: this.#truth,
    });
    this.#device = new Device(
      this.line,
      {
        shape,
        checksum: options.checksum ?? shape === 'named',
        fields: knownFields([
          ...(options.fields ?? defaultFields(this.line.plant.zones.length, axes)),
          ...(options.also ?? []),
        ]),
        lineEnd: options.lineEnd ?? '\r\n',
        startMs: wholeNumber('start of the device clock', options.startMs ?? 0),
        startN: wholeNumber('first line number', options.startN ?? 0),
        clockErrorPpm: numberIn('clock error', options.clockErrorPpm ?? 0, -100_000, 100_000, 'ppm'),
      },
      Random.stream(seed, 'device'),
    );
    this.#cable = new Cable(Random.stream(seed, 'cable'));
    this.#player = new ScriptPlayer(scenario, Random.stream(seed, 'script'), (action) => this.#act(action));
    if (scenario.plant?.surgeShare !== undefined)
      this.#truth.start('surging', 0, 0, { note: 'once per turn of the screw' });
    if (scenario.plant?.runOutShare !== undefined) {
      this.#truth.start('roller-run-out', 0, 0, {
        note: "periodic in length, with the roller's circumference",
      });
    }
  }

  get timeS(): number {
    return this.line.timeS;
  }

  get header(): string | null {
    return this.#device.header;
  }

  get counts(): SimulationCounts {
    return {
      sent: this.#sent,
      damaged: this.#cable.damaged,
      restarts: this.#restarts,
    };
  }

  step(): string {
    this.#samples++;
    const until = Math.round((this.#samples * STRAND_STEPS_PER_S) / this.rateHz);
    const line = this.line;
    while (line.steps < until) {
      if (line.slowStepIsNext) this.#player.step(line.timeS);
      line.step();
    }
    const text = this.#cable.carry(this.#device.sample());
    if (text !== '') this.#sent++;
    return text;
  }

  advanceTo(timeS: number): string {
    const samples = Math.floor(timeS * this.rateHz + 1e-9);
    let text = '';
    while (this.#samples < samples) text += this.step();
    return text;
  }

  truth(): TruthEvent[] {
    return this.#truth.events();
  }

  finish(): void {
    this.#truth.finish();
  }

  #act(action: Action): void {
    const { timeS, gaugeMm } = this.line;
    switch (action.do) {
      case 'cable':
        this.#cable.noise = action.noise;
        if (this.#noise !== null) this.#truth.end(this.#noise, timeS, gaugeMm);
        this.#noise = action.noise === null ? null : this.#truth.start('noisy-cable', timeS, gaugeMm);
        break;
      case 'restart':
        this.#device.restart(action.bootS);
        this.#restarted('device-restart', `silent for ${action.bootS} s, then clock and counters start at zero`);
        break;
      case 'new-sketch':
        this.#device.loadSketch(action.bootS);
        this.#restarted('new-sketch', `silent for ${action.bootS} s, then the fields have other names`);
        break;
      default:
        this.line.act(action);
    }
  }

  #restarted(kind: 'device-restart' | 'new-sketch', note: string): void {
    const { timeS, gaugeMm } = this.line;
    this.#restarts++;
    this.#truth.end(this.#truth.start(kind, timeS, gaugeMm, { note }), timeS, gaugeMm);
  }
}

function wholeNumber(what: string, value: number): number {
  if (Number.isSafeInteger(value) && value >= 0) return value;
  throw new SimulatorInputError(`The ${what} cannot be ${value}.`, 'Choose a whole number of at least 0.');
}

function numberIn(what: string, value: number, low: number, high: number, unit: string): number {
  if (value >= low && value <= high) return value;
  throw new SimulatorInputError(`The ${what} cannot be ${value}.`, `Choose a number from ${low} to ${high} ${unit}.`);
}

function notOneOf(what: string, value: string, known: readonly string[]): SimulatorInputError {
  return new SimulatorInputError(`Unknown ${what} “${value}”.`, `Choose one of ${known.join(', ')}.`);
}

function knownFields(fields: readonly string[]): readonly Role[] {
  const unknown = fields.find((field) => !isRole(field));
  if (unknown !== undefined) throw notOneOf('field', unknown, ROLES);
  if (fields.length === 0)
    throw new SimulatorInputError('A reading line has no fields.', 'Choose at least one, such as d.');
  const duplicate = fields.find((field, i) => fields.indexOf(field) !== i);
  if (duplicate !== undefined)
    throw new SimulatorInputError(`A line already has the field ${duplicate}.`, 'Choose it once.');
  return fields as readonly Role[];
}
