/**
 * The die and the draw-down. The flow Q out of the die becomes strand of diameter d at the puller's speed v:
 *
 *   Q = v · π/4 · d²
 *
 * The fine texture and the defects are part of the flow, so that the volume is conserved.
 */

import { type Defect, type DefectPlan, drawDefects, excessAtMm } from './defects.ts';
import type { Plant } from './plant.ts';
import { Random, Wander } from './random.ts';
import { SLOW_STEP_S, STRAND_STEP_S } from './steps.ts';
import type { StrandBelt } from './strand-belt.ts';
import type { OpenEvent, TruthLog } from './truth.ts';

const TEXTURE_CORRELATION_S = 0.08;
/** Steam in the melt makes the strand rougher, and each bubble shows as a short blob. */
const DAMP_TEXTURE_FACTOR = 4;
const DAMP_MEAN_GAP_S = 1.3;
const BUBBLE: DefectPlan = {
  kind: 'blob',
  shape: 'soft',
  excessMm: [0.05, 0.24],
  lengthMm: [2, 7],
  neck: { share: 0.35, shortfallMm: [0.04, 0.12], lengthMm: [2, 6] },
  note: 'gas bubble from damp feed',
};
/** Strand thinner than this breaks, mm. */
const BREAKS_BELOW_MM = 0.7;
/** Thick enough to be guided into the puller by hand. */
const THREADS_ABOVE_MM = 1.2;
/** At a lower speed there is no draw-down: the melt drips from the die. */
const DRAWS_ABOVE_MM_PER_S = 1;

export class Die {
  damp = false;
  /** Whether a strand reaches from the die into the puller. */
  threaded = false;
  broken = false;
  /** Flow that left the die as strand in the last step, mm³/s. */
  strandFlowMm3PerS = 0;
  /** Diameter of the strand at the die, mm; 0 = none. */
  diameterMm = 0;
  readonly #plant: Plant;
  readonly #belt: StrandBelt;
  readonly #truth: TruthLog;
  readonly #random: Random;
  readonly #texture: Wander;
  #defects: Defect[] = [];
  #nextBubbleS = 0;
  #gap: OpenEvent | null = null;

  constructor(plant: Plant, belt: StrandBelt, truth: TruthLog, seed: number) {
    this.#plant = plant;
    this.#belt = belt;
    this.#truth = truth;
    this.#random = Random.stream(seed, 'defects');
    this.#texture = new Wander(Random.stream(seed, 'texture'), TEXTURE_CORRELATION_S, STRAND_STEP_S);
  }

  /** Start a defect in the strand that is leaving the die now. */
  add(plan: DefectPlan): void {
    for (const defect of drawDefects(plan, this.#belt.headMm, this.#random)) {
      this.#defects.push(defect);
      const sense = defect.excessMm < 0 ? 'least' : 'largest';
      this.#truth.addPiece(defect.kind, defect.fromMm, defect.fromMm + defect.lengthMm, sense, defect.note);
    }
  }

  break(note: string): void {
    if (!this.threaded) return;
    this.threaded = false;
    this.broken = true;
    this.#gap = this.#truth.addPiece('strand-break', this.#belt.headMm, null, 'none', note);
  }

  allowThreading(): void {
    this.broken = false;
  }

  slowStep(): void {
    if (!this.damp || !this.threaded) return;
    this.#nextBubbleS -= SLOW_STEP_S;
    if (this.#nextBubbleS > 0) return;
    this.#nextBubbleS = this.#random.exponential(DAMP_MEAN_GAP_S);
    this.add(BUBBLE);
  }

  /** One strand step: draw the flow of the die down at the puller's speed. */
  step(flowMm3PerS: number, speedMmPerS: number): void {
    const roughness = this.#plant.textureShare * (this.damp ? DAMP_TEXTURE_FACTOR : 1);
    let flow = flowMm3PerS * (1 + roughness * this.#texture.step());
    const draws = speedMmPerS > DRAWS_ABOVE_MM_PER_S;
    const smoothMm = draws && flow > 0 ? Math.sqrt((4 * flow) / (Math.PI * speedMmPerS)) : 0;
    if (draws) this.#threadOrBreak(smoothMm);
    if (!this.threaded || !draws) {
      this.strandFlowMm3PerS = 0;
      this.diameterMm = 0;
      // Too slow for draw-down: a threaded strand moves on at nominal diameter. Without a strand, a gap moves along.
      const areaMm2 = this.threaded ? (Math.PI / 4) * this.#plant.nominalMm ** 2 : 0;
      this.#belt.push(speedMmPerS * STRAND_STEP_S, speedMmPerS * STRAND_STEP_S * areaMm2);
      return;
    }
    if (this.#defects.length > 0) flow *= this.#defectFactor(smoothMm);
    this.strandFlowMm3PerS = flow;
    this.diameterMm = Math.sqrt((4 * flow) / (Math.PI * speedMmPerS));
    this.#belt.push(speedMmPerS * STRAND_STEP_S, flow * STRAND_STEP_S);
  }

  #threadOrBreak(smoothMm: number): void {
    if (this.threaded) {
      if (smoothMm < BREAKS_BELOW_MM) this.break('too little melt for the speed: the strand broke at the die');
    } else if (!this.broken && smoothMm > THREADS_ABOVE_MM) {
      this.threaded = true;
      if (this.#gap !== null) this.#truth.endPiece(this.#gap, this.#belt.headMm);
      this.#gap = null;
    }
  }

  #defectFactor(smoothMm: number): number {
    const placeMm = this.#belt.headMm;
    let excessMm = 0;
    let isAnyPast = false;
    for (const defect of this.#defects) {
      excessMm += excessAtMm(defect, placeMm);
      if (placeMm > defect.fromMm + defect.lengthMm) isAnyPast = true;
    }
    if (isAnyPast) this.#defects = this.#defects.filter((defect) => placeMm <= defect.fromMm + defect.lengthMm);
    const ratio = Math.max(0.3, 1 + excessMm / smoothMm);
    return ratio * ratio;
  }
}
