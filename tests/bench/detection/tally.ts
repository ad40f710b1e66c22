import type { MeasuredSection } from '../../../server/strand/section.ts';
import type { StrandAdvisory } from '../../../server/strand/trend/advisory.ts';
import { beyondMm, type SimulatedRun } from './simulated-run.ts';
import {
  DOUBT_MM,
  type LumpTruth,
  type MadeStrand,
  SHARE,
  type StrandPlan,
  TEXTURE_S,
  type TrueLimits,
} from './strand-maker.ts';

/** Targets of detection. */
const BEYOND_MM = 0.03;
const SAMPLES = 3;
export const EDGE_TOLERANCE_MM = 20;
/** A section that begins or ends this far from a lump's foot does not belong to that lump. */
const FOOT_MM = 12;
/** So long without a break beyond the tolerance that no reading of “longer than 200 mm” could leave it out. */
const OFF_TOLERANCE_SURE_MM = 260;
/** The mean of so many readings may be this many of its standard deviations off. */
const SIGMAS = 4;
/** A third of the strand is rougher. There, the mean over a few readings wanders by more than the gauge's doubt, and so do edges. */
const ROUGH_SIGMA_MM = 0.022;
/** A stretch that comes back within tolerance on its way has no one true edge. */
const BREAK_MM = 10;

/** How many lumps of one kind were found, missed, and so on. */
export class LumpTally {
  count = 0;
  readonly missed: string[] = [];
  inDoubt = 0;
  /** |edge − truth| − one sample pitch, mm, both edges of each. */
  readonly edgeMm: number[] = [];
  /** Of that, the bad strand left outside. */
  readonly leftMm: number[] = [];
  /** Strand taken in that no one can call within: it is too near to the limit, mm. */
  readonly nearMm: number[] = [];

  /**
   * Edges are right anywhere between `outer` (where doubt begins) and the truth.
   * @param isNear whether this strand is too near to the limit to be told from strand beyond it
   */
  add(
    found: readonly MeasuredSection[],
    truth: TrueEdges,
    pitchMm: number,
    name: () => string,
    isNear: (fromMm: number, toMm: number) => boolean = () => false,
  ): void {
    this.count++;
    if (found.length === 0) {
      this.missed.push(name());
      return;
    }
    if (!found.some(({ certainty }) => certainty === 'sure')) this.inDoubt++;
    const fromMm = Math.min(...found.map((section) => section.fromMm));
    const toMm = Math.max(...found.map((section) => section.toMm));
    this.#addEdge(fromMm - truth.fromMm - pitchMm, truth.outerFromMm - fromMm - pitchMm, () =>
      isNear(fromMm, truth.outerFromMm),
    );
    this.#addEdge(truth.toMm - toMm - pitchMm, toMm - truth.outerToMm - pitchMm, () => isNear(truth.outerToMm, toMm));
  }

  #addEdge(leftMm: number, takenMm: number, isNear: () => boolean): void {
    this.leftMm.push(Math.max(0, leftMm));
    if (takenMm > EDGE_TOLERANCE_MM && isNear()) this.nearMm.push(takenMm);
    else this.edgeMm.push(Math.max(0, leftMm, takenMm));
  }
}

interface TrueEdges {
  readonly fromMm: number;
  readonly toMm: number;
  readonly outerFromMm: number;
  readonly outerToMm: number;
}

export class TrendTally {
  count = 0;
  found = 0;
  /** Advisories of the other kind, or before anything was. */
  false = 0;
  /** From the true beginning to that of the advisory, mm. */
  readonly lateMm: number[] = [];
}

export class Tally {
  strands = 0;
  readingsJudged = 0;
  readonly lumpsMm = { strand: 0, falseDiscards: 0 };
  readonly target = new LumpTally();
  /** Beyond the limit by less, or for fewer samples. */
  readonly lesser = new LumpTally();
  /** Blobs by as much beyond the limit as the target asks, by how many whole readings fit on what is beyond; from 3 on together. */
  readonly blobsByReadings = [0, 1, 2, 3].map(() => ({ count: 0, missed: 0, onRough: 0, missedOnRough: 0 }));
  readonly stretches = new LumpTally();
  readonly roughStretches = new LumpTally();
  /** From the full simulator, by its own truth. */
  readonly simulated = { mm: 0, lumps: new LumpTally(), falseDiscards: 0 };
  readonly good = { mm: 0, discards: 0, doubtful: 0 };
  /** Advisories of drift and surging on good strand, and on strand that has one or the other. */
  readonly goodTrends = { drift: 0, surging: 0 };
  readonly trends = { drift: new TrendTally(), surging: new TrendTally() };
  readonly glitches = { fine: 0, fineTaken: 0, wide: 0, wideTaken: 0 };

  get kilometres(): number {
    return (this.lumpsMm.strand + this.good.mm + this.simulated.mm) / 1e6;
  }

  lumps(plan: StrandPlan, strand: MadeStrand, sections: readonly MeasuredSection[]): void {
    const pitchMm = plan.speedMmPerS / plan.readingsPerS;
    const rough = plan.sigmaMm > ROUGH_SIGMA_MM;
    this.strands++;
    this.readingsJudged += strand.timeMs.length;
    this.lumpsMm.strand += plan.lengthMm;
    for (const truth of strand.truth) {
      const { lump } = truth;
      if (lump.kind === 'offTolerance') {
        const broken = truth.toMm - truth.fromMm - truth.longestMm > BREAK_MM;
        if (truth.longestMm > OFF_TOLERANCE_SURE_MM && !broken) {
          this.#compare(rough ? this.roughStretches : this.stretches, plan, strand, truth, sections, pitchMm);
        }
      } else {
        this.#countBlob(truth, sections, pitchMm, rough);
        if (truth.beyondMm >= BEYOND_MM && truth.longestMm >= SAMPLES * pitchMm) {
          this.#compare(this.target, plan, strand, truth, sections, pitchMm);
        } else if (truth.beyondMm > 0) this.#compare(this.lesser, plan, strand, truth, sections, pitchMm);
      }
    }
    this.lumpsMm.falseDiscards += sections.filter(
      (section) => section.verdict === 'discard' && !strand.truth.some((truth) => touches(section, truth, pitchMm)),
    ).length;
  }

  goodStrand(
    plan: StrandPlan,
    strand: MadeStrand,
    sections: readonly MeasuredSection[],
    advisories: readonly StrandAdvisory[],
  ): void {
    for (const { kind } of advisories) this.goodTrends[kind]++;
    this.strands++;
    this.readingsJudged += strand.timeMs.length;
    this.good.mm += plan.lengthMm;
    for (const { verdict } of sections) {
      if (verdict === 'discard') this.good.discards++;
      else this.good.doubtful++;
    }
  }

  /** Only strand that lets a detector learn what is usual before, and see enough of what is not. */
  trend(plan: StrandPlan, strand: MadeStrand, advisories: readonly StrandAdvisory[]): void {
    const { trend } = plan;
    if (trend === null || trend.fromMm < 30_000 || plan.lengthMm - trend.fromMm < 30_000) return;
    this.strands++;
    this.readingsJudged += strand.timeMs.length;
    const tally = this.trends[trend.kind === 'drift' ? 'drift' : 'surging'];
    tally.count++;
    const found = advisories.filter(
      ({ kind, toMm }) => (kind === 'drift') === (trend.kind === 'drift') && toMm > trend.fromMm,
    );
    if (found.length > 0) {
      tally.found++;
      tally.lateMm.push(Math.abs(Math.min(...found.map(({ fromMm }) => fromMm)) - trend.fromMm));
    }
    tally.false += advisories.length - found.length;
  }

  /** `fine`: the pitch is so fine that the detector claims to tell a glitch. */
  glitchy(strand: MadeStrand, sections: readonly MeasuredSection[], fine: boolean): void {
    this.strands++;
    this.readingsJudged += strand.timeMs.length;
    const discards = sections.filter(({ verdict }) => verdict === 'discard').length;
    this.glitches[fine ? 'fine' : 'wide'] += strand.glitchAtMm.length;
    this.glitches[fine ? 'fineTaken' : 'wideTaken'] += discards;
  }

  simulatedRun(seed: number, run: SimulatedRun, sections: readonly MeasuredSection[], limits: TrueLimits): void {
    const n = run.gaugeMm.length;
    this.strands++;
    this.readingsJudged += n;
    this.simulated.mm += run.gaugeMm[n - 1]! - run.gaugeMm[0]!;
    const near = (section: MeasuredSection, fromMm: number, toMm: number, reachMm: number) =>
      section.toMm >= fromMm - reachMm && section.fromMm <= toMm + reachMm;
    for (const event of run.truth) {
      const { fromGaugeMm: fromMm } = event;
      const toMm = event.toGaugeMm ?? fromMm;
      if (beyondMm(event, limits) < BEYOND_MM || toMm - fromMm < SAMPLES * run.pitchMm) continue;
      const kind = event.kind === 'oversize' ? 'blob' : 'neck';
      const found = sections.filter((section) => section.kind === kind && near(section, fromMm, toMm, run.pitchMm));
      this.simulated.lumps.add(
        found,
        { fromMm, toMm, outerFromMm: fromMm, outerToMm: toMm },
        run.pitchMm,
        () => `simulator seed ${seed}: ${kind} at ${fromMm} mm`,
      );
    }
    this.simulated.falseDiscards += sections.filter(
      (section) =>
        section.verdict === 'discard' &&
        !run.defects.some((event) => near(section, event.fromGaugeMm, event.toGaugeMm ?? 0, FOOT_MM + 2 * run.pitchMm)),
    ).length;
  }

  /** Missed = not even called doubtful. */
  #countBlob(truth: LumpTruth, sections: readonly MeasuredSection[], pitchMm: number, rough: boolean): void {
    const { lump, beyondMm: beyond, longestMm, fromMm, toMm } = truth;
    if (lump.kind !== 'blob' || beyond < BEYOND_MM) return;
    const tally = this.blobsByReadings[Math.min(SAMPLES, Math.floor(longestMm / pitchMm))];
    if (tally === undefined) return;
    tally.count++;
    if (rough) tally.onRough++;
    if (sections.some((s) => s.kind === 'blob' && s.toMm >= fromMm - pitchMm && s.fromMm <= toMm + pitchMm)) return;
    tally.missed++;
    if (rough) tally.missedOnRough++;
  }

  #compare(
    tally: LumpTally,
    plan: StrandPlan,
    strand: MadeStrand,
    truth: LumpTruth,
    sections: readonly MeasuredSection[],
    pitchMm: number,
  ): void {
    const { lump, fromMm, toMm } = truth;
    const found = sections.filter(
      (section) => section.kind === lump.kind && section.toMm >= fromMm - pitchMm && section.fromMm <= toMm + pitchMm,
    );
    const samples = (truth.longestMm / pitchMm).toFixed(1);
    tally.add(
      found,
      // The flank of a lump is steep: its edge is known. That of a stretch may hover in doubt for long.
      lump.kind === 'offTolerance' ? truth : { fromMm, toMm, outerFromMm: fromMm, outerToMm: toMm },
      pitchMm,
      () =>
        `seed ${plan.seed}: ${lump.kind} at ${fromMm.toFixed(1)} mm, ${truth.beyondMm.toFixed(3)} mm beyond for ${samples} samples of ${pitchMm.toFixed(2)} mm`,
      (near, far) => lump.kind === 'offTolerance' && isNearLimit(plan, strand, truth, near, far),
    );
  }
}

/** Whether this strand, as a whole, is within the limit by no more than the doubt of the gauge and the noise of the mean. */
function isNearLimit(
  { offsetMm, sigmaMm, speedMmPerS }: StrandPlan,
  { gaugeMm, diameterMm }: MadeStrand,
  { lump, limitMm }: LumpTruth,
  fromMm: number,
  toMm: number,
): boolean {
  const here = diameterMm.filter((_, i) => gaugeMm[i]! > fromMm && gaugeMm[i]! < toMm);
  const meanMm = here.reduce((sum, mm) => sum + mm, 0) / here.length - offsetMm;
  // The truth is that of the strand without its fine texture.
  const texture = Math.min(1, (2 * speedMmPerS * TEXTURE_S) / (toMm - fromMm));
  const noiseMm = sigmaMm * Math.sqrt(SHARE.white / here.length + SHARE.texture * texture);
  return Math.sign(lump.heightMm) * (limitMm - meanMm) <= DOUBT_MM + SIGMAS * noiseMm;
}

function touches(section: MeasuredSection, { lump }: LumpTruth, pitchMm: number): boolean {
  const reach = FOOT_MM + 2 * pitchMm;
  return section.toMm >= lump.fromMm - reach && section.fromMm <= lump.fromMm + lump.lengthMm + reach;
}
