/**
 * One simulated line with its measuring device and cable.
 *
 *   scenario ──► script player ──► line ──► device ──► cable ──► raw text
 *                                   └─────► truth
 *
 * The same options always give the same bytes and the same truth, however the simulation is stepped.
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
  /** A known name, or a scenario of one's own. */
  readonly scenario: string | Scenario;
  /** An integer ≥ 0; 1 unless told otherwise. */
  readonly seed?: number;
  /** Reading lines a second, above 0 up to 200; 50 unless told otherwise. */
  readonly rateHz?: number;
  /** `named` unless told otherwise. */
  readonly shape?: LineShape;
  /** Whether lines end in a checksum; for `named` yes, for the others no, unless told otherwise. */
  readonly checksum?: boolean;
  /** Strand between gauge and winder, mm; 1200 unless told otherwise. */
  readonly gaugeToWinderMm?: number;
  /** 2 = the gauge has two axes and the lines `dx` and `dy`. */
  readonly axes?: 1 | 2;
  /** Which fields a line has, in which order. */
  readonly fields?: readonly Role[];
  /** Further fields behind those, such as `turns` or `bar`. */
  readonly also?: readonly string[];
  readonly lineEnd?: '\n' | '\r\n';
  /** What the device's clock shows at the start, ms; above 0 the device is taken to run already and sends no banner. */
  readonly startMs?: number;
  /** The first line's number. */
  readonly startN?: number;
  /** How much the device's clock runs fast, parts per million. */
  readonly clockErrorPpm?: number;
  /** Called once for each event, when nothing more can become known of it. */
  readonly onTruth?: (event: TruthEvent) => void;
}

interface SimulationCounts {
  /** Samples for which the device sent something. */
  readonly sent: number;
  /** Of those, how many the cable damaged. */
  readonly damaged: number;
  readonly restarts: number;
}

export interface Simulation {
  readonly scenario: Scenario;
  readonly rateHz: number;
  /** Simulated seconds so far. */
  readonly timeS: number;
  /** The line behind the readings, for a look at what no reading shows. */
  readonly line: Line;
  readonly counts: SimulationCounts;
  /** The columns' header line with its line end; null for the other shapes. A reader that comes late needs it. */
  readonly header: string | null;
  /**
   * Goes on by one sample and gives what came over the cable: one raw line with its line end as a rule, several, a damaged
   * one, or nothing while the device boots. One character a byte (latin1).
   */
  step(): string;
  /** Goes on to the last sample at or before that simulated time; gives nothing if it is there already. */
  advanceTo(timeS: number): string;
  /** All that has happened at the gauge so far. */
  truth(): TruthEvent[];
  /** Settles the truth: hands over every event that is still waiting, also those that last. */
  finish(): void;
}

/**
 * @throws SimulatorInputError for an unknown scenario or an option out of its range
 */
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
    this.rateHz = numberIn('rate', options.rateHz ?? 50, 0.1, STRAND_STEPS_PER_S, 'lines a second');
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
      this.#truth.begin('surging', 0, 0, { note: 'tied to the screw turn' });
    if (scenario.plant?.runOutShare !== undefined) {
      this.#truth.begin('roller-run-out', 0, 0, {
        note: "periodic in length: the roller's circumference",
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
        this.#noise = action.noise === null ? null : this.#truth.begin('noisy-cable', timeS, gaugeMm);
        break;
      case 'restart': {
        this.#device.restart(action.bootS);
        this.#restarts++;
        const note = `silent for ${action.bootS} s, then clock and counters from nothing`;
        const event = this.#truth.begin('device-restart', timeS, gaugeMm, {
          note,
        });
        this.#truth.end(event, timeS, gaugeMm);
        break;
      }
      default:
        this.line.act(action);
    }
  }
}

function wholeNumber(what: string, value: number): number {
  if (Number.isSafeInteger(value) && value >= 0) return value;
  throw new SimulatorInputError(`The ${what} is ${value}; give a whole number from 0 on.`);
}

function numberIn(what: string, value: number, low: number, high: number, unit: string): number {
  if (value >= low && value <= high) return value;
  throw new SimulatorInputError(`The ${what} is ${value}; give a number from ${low} to ${high} ${unit}.`);
}

function notOneOf(what: string, value: string, known: readonly string[]): SimulatorInputError {
  return new SimulatorInputError(`Unknown ${what} "${value}"; known are ${known.join(', ')}.`);
}

function knownFields(fields: readonly string[]): readonly Role[] {
  const unknown = fields.find((field) => !isRole(field));
  if (unknown !== undefined) throw notOneOf('field', unknown, ROLES);
  if (fields.length === 0) throw new SimulatorInputError('A reading line needs at least one field, such as d.');
  const twice = fields.find((field, i) => fields.indexOf(field) !== i);
  if (twice !== undefined) throw new SimulatorInputError(`A line has the field ${twice} already; ask for another one.`);
  return fields as readonly Role[];
}
