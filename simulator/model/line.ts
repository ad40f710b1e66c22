/**
 * The whole extrusion line.
 *
 *   hopper+screw ──► melt ──► die ═══ strand ═══► gauge ═══ strand ═══► winder
 *        feed        ▲ heat    ▲ draw-down ◄── puller ◄── loop ──┘
 *                  barrel
 *
 * The puller is just after the gauge and moves the whole strand.
 */

import type { LineAction } from './action.ts';
import { Barrel } from './barrel.ts';
import { Die } from './die.ts';
import { Feed } from './feed.ts';
import { Gauge } from './gauge.ts';
import { Melt } from './melt.ts';
import type { Plant } from './plant.ts';
import { Puller } from './puller.ts';
import { STRAND_STEP_S, STRAND_STEPS_PER_S, STRAND_STEPS_PER_SLOW_STEP } from './steps.ts';
import { type BeltReader, StrandBelt } from './strand-belt.ts';
import { OVERSIZE_ABOVE_MM, StrandWatch, UNDERSIZE_BELOW_MM } from './strand-watch.ts';
import type { OpenEvent, TruthKind, TruthLog } from './truth.ts';
import { Winder } from './winder.ts';

type Stage = 'heating' | 'purging' | 'winding' | 'stopped';

export interface LineOptions {
  readonly plant: Plant;
  readonly seed: number;
  /** Temperature of each zone at the start; null = room temperature. */
  readonly startC: readonly (number | null)[];
  readonly gaugeToWinderMm: number;
  readonly axes: 1 | 2;
  readonly truth: TruthLog;
}

export class Line {
  readonly plant: Plant;
  readonly barrel: Barrel;
  readonly feed: Feed;
  readonly melt = new Melt();
  readonly die: Die;
  readonly puller: Puller;
  readonly gauge: Gauge;
  readonly winder: Winder;
  readonly truth: TruthLog;
  /** Strand that has passed the gauge since the start, mm. */
  gaugeMm = 0;
  /** True diameter at the gauge, mm; 0 = no strand. */
  diameterMm = 0;
  /** True speed of the strand, mm/s. */
  speedMmPerS = 0;
  readonly #watch: StrandWatch;
  // One object serves all steps, because a new one per step would be most of the garbage.
  readonly #state = {
    timeS: 0,
    gaugeMm: 0,
    stepMm: 0,
    diameterMm: 0,
    winderMm: 0,
    winding: false,
    spool: 0,
    woundMm: 0,
  };
  readonly #belt: StrandBelt;
  readonly #gaugeReader: BeltReader;
  readonly #winderReader: BeltReader;
  readonly #gaugeToWinderMm: number;
  readonly #ongoing = new Map<string, OpenEvent>();
  #steps = 0;
  #stage: Stage | null = null;
  #stageSpool = 0;
  #winderWaitsForStrand = false;

  constructor(options: LineOptions) {
    const { plant, seed, truth } = options;
    this.plant = plant;
    this.truth = truth;
    this.#gaugeToWinderMm = options.gaugeToWinderMm;
    this.#belt = new StrandBelt(plant.dieToGaugeMm, plant.dieToGaugeMm + options.gaugeToWinderMm + 10);
    this.#gaugeReader = this.#belt.reader();
    this.#winderReader = this.#belt.reader();
    this.barrel = new Barrel(plant, options.startC, seed);
    this.feed = new Feed(plant, seed);
    this.die = new Die(plant, this.#belt, truth, seed);
    this.puller = new Puller(plant);
    this.gauge = new Gauge(plant, options.axes, seed);
    this.winder = new Winder(plant.nominalMm);
    this.#watch = new StrandWatch(truth);
  }

  get timeS(): number {
    return this.#steps / STRAND_STEPS_PER_S;
  }

  get steps(): number {
    return this.#steps;
  }

  /** Whether the next strand step is also a slow one. */
  get slowStepIsNext(): boolean {
    return this.#steps % STRAND_STEPS_PER_SLOW_STEP === 0;
  }

  step(): void {
    if (this.slowStepIsNext) this.#slowStep();
    this.#steps++;
    const timeS = this.timeS;
    this.speedMmPerS = this.puller.step();
    const stepMm = this.speedMmPerS * STRAND_STEP_S;
    this.die.step(this.melt.step(this.feed.step()), this.speedMmPerS);

    this.gaugeMm += stepMm;
    const winderMm = this.gaugeMm - this.#gaugeToWinderMm;
    this.diameterMm = this.#gaugeReader(this.gaugeMm);
    this.gauge.step(this.diameterMm);
    this.winder.step(stepMm, this.#winderReader(winderMm) > 0);

    this.#watch.step(timeS, this.gaugeMm, this.diameterMm);
    const { winder } = this;
    const state = this.#state;
    state.timeS = timeS;
    state.gaugeMm = this.gaugeMm;
    state.stepMm = stepMm;
    state.diameterMm = this.diameterMm;
    state.winderMm = winderMm;
    state.winding = winder.on;
    state.spool = winder.spool;
    state.woundMm = winder.woundMm;
    this.truth.step(state);
  }

  #slowStep(): void {
    this.barrel.step();
    this.feed.slowStep();
    this.melt.slowStep(this.barrel.meltC, this.barrel.coldestC);
    this.die.slowStep();
    this.puller.slowStep(this.gauge.slowStep());
    if (this.#winderWaitsForStrand) this.#startWinder();
  }

  #startWinder(): void {
    const diameterMm = this.#winderReader(this.gaugeMm - this.#gaugeToWinderMm);
    if (diameterMm < UNDERSIZE_BELOW_MM || diameterMm > OVERSIZE_ABOVE_MM) return;
    this.#winderWaitsForStrand = false;
    this.winder.start();
    this.#updateStage();
  }

  act(action: LineAction): void {
    switch (action.do) {
      case 'heat':
        for (const [i, zone] of this.barrel.zones.entries()) zone.controller.setPointC = action.setPointsC[i] ?? 0;
        break;
      case 'set-point':
        this.barrel.zone(action.zone).controller.setPointC = action.celsius;
        this.#mark('set-point-change', action.zone, `set-point changed to ${action.celsius} °C`);
        break;
      case 'screw':
        if (this.feed.rpmTarget === 0 && action.rpm > 0) {
          this.feed.unsettled = 1;
          this.feed.settleS = action.settleS ?? 20;
        }
        this.feed.rpmTarget = action.rpm;
        break;
      case 'puller':
        this.puller.set(action.mode, action.speedMmPerS);
        break;
      case 'counter-slip':
        this.puller.counterSlip = action.share;
        this.#setOngoing('counter-slip', action.share > 0, { note: 'the wheel of the length counter slips' });
        break;
      case 'winder':
        this.#winderWaitsForStrand = action.on;
        if (!action.on) this.winder.stop();
        break;
      case 'defect':
        this.die.add(action.plan);
        break;
      case 'break':
        this.die.break('the strand broke at the die');
        break;
      case 'thread':
        this.die.allowThreading();
        break;
      case 'damp-feed':
        this.die.damp = action.on;
        this.#setOngoing('damp-feed', action.on, {
          note: 'gas bubbles: many short blobs and a rough strand',
        });
        break;
      case 'bridging':
        this.feed.bridging = action.on;
        this.#setOngoing('bridging', action.on, {
          note: 'the hopper alternately starves and floods the screw',
        });
        break;
      case 'heat-fault': {
        this.barrel.setFault(action.zone, action.fault);
        const slot = `heat ${action.zone}`;
        this.#close(slot);
        if (action.fault !== null) this.#open(slot, action.fault, { zone: action.zone });
        break;
      }
      case 'draught':
        this.barrel.zone(action.zone).body.draught = action.share;
        this.#close(`draught ${action.zone}`);
        if (action.share > 0) {
          this.#open(`draught ${action.zone}`, 'zone-disturbance', {
            zone: action.zone,
            note: 'a draught',
          });
        }
        break;
      case 'gauge-fault':
        this.gauge.fault = action.fault;
        this.#close('gauge');
        if (action.fault !== null) this.#open('gauge', `gauge-${action.fault}`, {});
        break;
    }
    this.#updateStage();
  }

  /** Start an event that continues until its slot is closed. */
  #open(slot: string, kind: TruthKind, details: { zone?: number; note?: string }): void {
    this.#ongoing.set(slot, this.truth.start(kind, this.timeS, this.gaugeMm, details));
  }

  #close(slot: string): void {
    const open = this.#ongoing.get(slot);
    if (open === undefined) return;
    this.truth.end(open, this.timeS, this.gaugeMm);
    this.#ongoing.delete(slot);
  }

  #setOngoing(kind: TruthKind, on: boolean, details: { zone?: number; note?: string }): void {
    this.#close(kind);
    if (on) this.#open(kind, kind, details);
  }

  #mark(kind: TruthKind, zone: number, note: string): void {
    this.truth.end(this.truth.start(kind, this.timeS, this.gaugeMm, { zone, note }), this.timeS, this.gaugeMm);
  }

  #updateStage(): void {
    const heated = this.barrel.zones.some((zone) => zone.controller.setPointC > 0);
    const running = this.feed.rpmTarget > 0 || this.puller.mode !== 'off';
    const stage: Stage = this.winder.on ? 'winding' : running ? 'purging' : heated ? 'heating' : 'stopped';
    if (stage === this.#stage && (stage !== 'winding' || this.#stageSpool === this.winder.spool)) return;
    this.#stage = stage;
    this.#stageSpool = this.winder.spool;
    this.#close('stage');
    this.#open('stage', stage, stage === 'winding' ? { note: `spool ${this.winder.spool}` } : {});
  }
}
