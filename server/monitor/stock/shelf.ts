import type { Printer } from '../../entities/printer.ts';
import { isExample } from '../../entities/run.ts';
import type { FeedingEnd, StrandUse } from '../../entities/strand-use.ts';
import { Problem } from '../../problem/problem.ts';
import { type CoilStock, coilStock, type WholeStrand } from '../../stock/coil-stock.ts';
import { gramsOfLength } from '../../strand/mass.ts';
import type { Coil } from '../../strand/plan/coil.ts';
import type { StrandRange } from '../../strand/plan/coil-names.ts';
import type { CutPlan } from '../../strand/plan/cut-plan.ts';
import { coilVerdict } from '../../strand/verdict/coil-verdict.ts';
import type { Fitness } from '../../strand/verdict/spool-verdict.ts';
import { type Judgement, strandMass } from '../spool/judgement.ts';
import type { SpoolJudge } from '../spool/spool-judge.ts';
import { gaugeMmAt, isWinding, positionMm, type WoundSpool } from '../spool/wound-spool.ts';

/** A coil, or a spool of which something is not cut yet. */
export interface OnShelf {
  /** As printed on its label. */
  readonly code: string;
  readonly name: string;
  readonly judged: Judgement;
  /** null = the spool itself. */
  readonly coil: Coil | null;
  readonly strand: StrandRange;
  readonly feeds: FeedingEnd;
  readonly whole: WholeStrand;
  readonly uses: readonly StrandUse[];
  readonly stock: CoilStock;
  readonly fitness: Fitness;
  readonly sentence: string;
  /** What will be in one piece after cutting; null = it is a coil, or no piece is worth keeping. */
  readonly longestPieceMm: number | null;
  readonly isExample: boolean;
}

/** All strand of a spool that is on the shelf, and what was stated about strand that is no longer in one piece there. */
export interface ShelvedSpool {
  readonly items: readonly OnShelf[];
  readonly unplaced: readonly StrandUse[];
}

/** @param uses that count, in the order in which they were stated */
export function shelved(judged: Judgement, uses: readonly StrandUse[]): ShelvedSpool {
  const { woundSpool, plan } = judged;
  if (plan === null || isWinding(woundSpool)) return { items: [], unplaced: uses };
  const strands = strandsOf(judged, plan);
  const ofStrand = new Map(strands.map((one) => [one, [] as StrandUse[]]));
  const unplaced: StrandUse[] = [];
  for (const use of uses) {
    const home = homeOf(use, strands, woundSpool);
    (home === null ? unplaced : ofStrand.get(home)!).push(use);
  }
  return { items: strands.map((one) => itemOf(one, judged, plan, ofStrand.get(one)!)), unplaced };
}

interface Piece {
  readonly coil: Coil | null;
  readonly strand: StrandRange;
  readonly feeds: FeedingEnd;
}

function strandsOf({ woundMm, woundSpool }: Judgement, plan: CutPlan): Piece[] {
  const coils = plan.coils.filter(({ state }) => state === 'cut');
  const pieces: Piece[] = coils.map((coil) => ({ coil, strand: coil, feeds: 'inner' }));
  const cutMm = plan.donePieces.reduce((most, piece) => Math.max(most, piece.toOuterMm), 0);
  const restMm = Math.round(woundMm) - cutMm;
  // What is left on the core after the last coil is waste.
  const isWorthIt = woundSpool.cuts.length === 0 || plan.coils.some(({ state }) => state === 'planned');
  if (restMm > 0 && isWorthIt) pieces.push({ coil: null, strand: { fromMm: 0, toMm: restMm }, feeds: 'outer' });
  return pieces;
}

/**
 * A statement stays with its strand: with the coil that now holds more than half of it. What was used from the outer end of a
 * spool is gone once it has been cut again: that strand was discarded, or is counted in the coil.
 */
function homeOf(use: StrandUse, pieces: readonly Piece[], woundSpool: WoundSpool): Piece | null {
  const from = positionMm(woundSpool, use.place.fromGaugeMm);
  const to = positionMm(woundSpool, use.place.toGaugeMm);
  if (use.feeds === 'outer' && use.atMs < lastCutMs(woundSpool)) return null;
  const shared = ({ strand }: Piece) => Math.min(to, strand.toMm) - Math.max(from, strand.fromMm);
  return (
    pieces.find((piece) => piece.feeds === use.feeds && (piece.coil === null || shared(piece) > (to - from) / 2)) ??
    null
  );
}

function lastCutMs({ cuts }: WoundSpool): number {
  return cuts.at(-1)?.atMs ?? Number.NEGATIVE_INFINITY;
}

/** Why the counts of a cut list are off: strand was used from the outer end since the last cut. Empty = they are not. */
export function usedBeforeCutting({ items }: ShelvedSpool): readonly string[] {
  const spool = items.find(({ coil }) => coil === null);
  if (spool === undefined || spool.uses.length === 0) return [];
  const usedM = (spool.whole.lengthMm - spool.stock.leftMm) / 1000;
  const used = usedM === 0 ? 'An amount that was not recorded' : `About ${usedM.toFixed(1)} m`;
  return [
    `${used} was used from the outer end of this spool. Before the next step, tick off that length as discarded: all counts start there.`,
  ];
}

function itemOf({ coil, strand, feeds }: Piece, judged: Judgement, plan: CutPlan, uses: StrandUse[]): OnShelf {
  const { woundSpool, limits, meanDiameterMm } = judged;
  const mass = strandMass(judged, meanDiameterMm);
  const lengthMm = strand.toMm - strand.fromMm;
  const whole: WholeStrand = {
    lengthMm,
    lengthUncertaintyMm: coil?.lengthUncertaintyMm ?? lengthMm * woundSpool.scale.share,
    gramsPerMm: meanDiameterMm === null ? null : gramsOfLength(1, meanDiameterMm, mass.densityGPerCm3),
    gramsShare: mass.share,
    slicerGramsPerMm: gramsOfLength(1, limits.nominalMm, woundSpool.settings.densityGPerCm3),
  };
  const planned = plan.coils.filter(({ state }) => state === 'planned').map((one) => one.lengthMm);
  return {
    code: coil === null ? woundSpool.code : `${woundSpool.code}-${coil.letter}`,
    name: coil?.name ?? woundSpool.name,
    judged,
    coil,
    strand,
    feeds,
    whole,
    uses,
    stock: coilStock(whole, uses),
    ...verdictOn(coil, judged, plan),
    longestPieceMm: coil === null && planned.length > 0 ? Math.max(...planned) : null,
    isExample: isExample(woundSpool.run),
  };
}

function verdictOn(coil: Coil | null, judged: Judgement, plan: CutPlan): Pick<OnShelf, 'fitness' | 'sentence'> {
  const { limits, printerName } = judged;
  const verdict =
    coil === null
      ? judged.verdict
      : coilVerdict(plan, coil, { nominalMm: limits.nominalMm, profile: { ...limits, name: printerName } }, null, null);
  return verdict ?? { fitness: 'unknown', sentence: 'Nothing was measured.' };
}

/** What a strand is called for another printer than the one chosen for its spool. */
export async function fitnessFor(item: OnShelf, printer: Printer, judge: SpoolJudge): Promise<Fitness> {
  const { judged, coil } = item;
  if (judged.by.kind === 'printer' && judged.by.printer.id === printer.id) return item.fitness;
  try {
    const byIt = await judge.judgeFor(judged.woundSpool, printer);
    // Its coils were cut by the plan for the chosen printer. Only stretches and limits are those of this one.
    const plan = judged.plan && { ...judged.plan, request: byIt.plan?.request ?? judged.plan.request };
    return plan === null ? 'unknown' : verdictOn(coil, byIt, plan).fitness;
  } catch (thrown) {
    // Strand of another diameter than the printer takes.
    if (thrown instanceof Problem && thrown.code === 'bad-printer') return 'unknown';
    throw thrown;
  }
}

/** The strand of an item by gauge length, as statements about it are stored. */
export function placeOf({ judged: { woundSpool }, strand }: OnShelf): StrandUse['place'] {
  return { fromGaugeMm: gaugeMmAt(woundSpool, strand.fromMm), toGaugeMm: gaugeMmAt(woundSpool, strand.toMm) };
}
