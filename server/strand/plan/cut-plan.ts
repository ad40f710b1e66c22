import { gramsOfLength } from '../mass.ts';
import { type BestCuts, bestCuts, type Piece } from './best-cuts.ts';
import { nameOfCoil } from './coil-names.ts';
import { CountGuard } from './count-guard.ts';
import { type CutRequest, checkCutRequest, USUAL_COUNT_ERROR } from './cut-request.ts';
import { type DoneCut, type DonePiece, followCuts } from './done-cuts.ts';
import { type LandmarkHint, landmarkHint, lengthText } from './landmark-hint.ts';
import { badLength, badStretchesBetween, lengthsByFate, mapSpool, type SpoolMap } from './spool-map.ts';

/** Positions in whole mm: `…OuterMm` from the outer end of the full spool, the others from its inner end. */
interface Placed {
  readonly fromMm: number;
  readonly toMm: number;
  readonly fromOuterMm: number;
  readonly toOuterMm: number;
  readonly lengthMm: number;
}

interface CutStep extends Placed {
  /** From 1, over the remaining steps. */
  readonly ordinal: number;
  readonly action: 'unwindAndKeep' | 'discard';
  /** To be counted since the last cut. */
  readonly countedMm: number;
  /** Largest error of the count at its end. */
  readonly countErrorMm: number;
  /** False for the last piece, which ends at the core. */
  readonly cutAfter: boolean;
  /** Good strand given up on either side of bad stretches because of the count's error; 0 for a kept piece. */
  readonly marginBeforeMm: number;
  readonly marginAfterMm: number;
  /** What the user sees next: after the start of this step (discard), or after its cut (keep). */
  readonly landmark: LandmarkHint | null;
  /** The coil that this step makes. */
  readonly coil: string | null;
  readonly sentence: string;
}

export interface Coil extends Placed {
  /** Given by a user, else letters in the order of unwinding. */
  readonly name: string;
  readonly named: boolean;
  readonly state: 'planned' | 'cut';
  /** `spoilt`: a wrong cut left a bad stretch in it, so it does not count as kept. */
  readonly condition: DonePiece['condition'];
  readonly doubtfulMm: number;
  readonly unknownMm: number;
  readonly grams: number | null;
}

/** keptMm + discardedMm + unknownMm = woundMm, exactly. */
interface CutTotals {
  readonly woundMm: number;
  /** Measured strand in coils. */
  readonly keptMm: number;
  /** Measured strand that is cut out, or in a spoilt coil. */
  readonly discardedMm: number;
  /** Unmeasured strand, in coils or not. */
  readonly unknownMm: number;
  readonly unknownInCoilsMm: number;
  /** Good strand that is cut out, in margins and in pieces too short to keep. */
  readonly goodDiscardedMm: number;
  readonly cuts: number;
}

export interface CutPlan {
  readonly request: CutRequest;
  readonly done: readonly DoneCut[];
  readonly donePieces: readonly (Placed & {
    readonly keep: boolean;
    readonly condition: DonePiece['condition'];
    readonly knownToMm: number;
    readonly knownAfterMm: number;
  })[];
  readonly steps: readonly CutStep[];
  /** In the order of unwinding. */
  readonly coils: readonly Coil[];
  readonly totals: CutTotals;
  readonly explanation: string;
  readonly warnings: readonly string[];
}

/** What a plan keeps in coils that are not spoilt. Lengths in mm. */
export interface KeptByPlan {
  readonly keptMm: number;
  readonly coils: number;
  readonly longestCoilMm: number;
}

export function keptBy({ totals, coils }: CutPlan): KeptByPlan {
  const whole = coils.filter(({ condition }) => condition !== 'spoilt').map(({ lengthMm }) => lengthMm);
  return { keptMm: totals.keptMm, coils: whole.length, longestCoilMm: Math.max(0, ...whole) };
}

/** Above this unmeasured share of a spool the plan warns. */
const UNKNOWN_TO_WARN = 0.05;

/**
 * Plans the cuts of a spool, or of what is left of it after some cuts. To undo a cut, plan without it.
 * @throws Problem for an empty spool, an invalid request, or impossible cuts
 */
export function planCuts(request: CutRequest, done: readonly DoneCut[] = []): CutPlan {
  checkCutRequest(request);
  const map = mapSpool(request);
  const guard = new CountGuard(request.countError ?? USUAL_COUNT_ERROR);
  const { pieces: donePieces, remainder } = followCuts(map, guard, done);
  const shortestMm = Math.ceil(request.shortestCoilMm);
  const best = bestCuts(remainder, guard, shortestMm, request.objective, request.leastKeptShare ?? 0.9);

  const coils: Coil[] = [];
  const addCoil = (piece: Piece, state: Coil['state'], condition: Coil['condition']): string => {
    const place = placed(map, piece.fromMm, piece.toMm);
    const userName = nameOfCoil(place, request.coilNames ?? []);
    const name = userName ?? `${request.spoolName} ${letters(coils.length)}`;
    const fates = lengthsByFate(map, piece.fromMm, piece.toMm);
    coils.push({
      ...place,
      name,
      named: userName !== null,
      state,
      condition,
      doubtfulMm: fates.doubtful,
      unknownMm: fates.unknown,
      grams: gramsFor(request, piece.toMm - piece.fromMm),
    });
    return name;
  };
  for (const piece of donePieces) if (piece.keep && piece.toMm > piece.fromMm) addCoil(piece, 'cut', piece.condition);
  const steps: CutStep[] = [];
  let landmarkMm = remainder.landmarkMm;
  best.pieces.forEach((piece, index) => {
    const coil = piece.keep ? addCoil(piece, 'planned', 'clean') : null;
    steps.push(stepOf(map, guard, piece, index, landmarkMm, coil, best.pieces[index + 1]));
    if (!piece.keep)
      for (const bad of badStretchesBetween(map, piece.fromMm, piece.toMm))
        if (bad.toMm <= piece.toMm) landmarkMm = Math.max(landmarkMm, bad.seenToMm ?? 0);
  });
  const totals = totalsOf(map, coils, donePieces, best);
  return {
    request,
    done,
    donePieces: donePieces.map((p) => ({
      ...placed(map, p.fromMm, p.toMm),
      keep: p.keep,
      condition: p.condition,
      knownToMm: p.knownToMm,
      knownAfterMm: p.knownAfterMm,
    })),
    steps,
    coils,
    totals,
    explanation: explain(request, coils, totals, best, shortestMm),
    warnings: warningsFor(request, totals, coils),
  };
}

function placed(map: SpoolMap, fromOuterMm: number, toOuterMm: number): Placed {
  return {
    fromMm: map.woundMm - toOuterMm,
    toMm: map.woundMm - fromOuterMm,
    fromOuterMm,
    toOuterMm,
    lengthMm: toOuterMm - fromOuterMm,
  };
}

function stepOf(
  map: SpoolMap,
  guard: CountGuard,
  piece: Piece,
  index: number,
  landmarkMm: number,
  coil: string | null,
  next: Piece | undefined,
): CutStep {
  const countedMm = piece.toMm - piece.fromMm;
  const cutAfter = piece.toMm < map.woundMm;
  const inside = piece.keep ? [] : badStretchesBetween(map, piece.fromMm, piece.toMm);
  const coming = piece.keep ? next : piece;
  const seen =
    coming === undefined || coming.keep
      ? null
      : badStretchesBetween(map, coming.fromMm, coming.toMm).find((bad) => bad.landmark !== null)?.landmark;
  const [firstBad, lastBad] = [inside.at(0), inside.at(-1)];
  const cut = cutAfter ? ', then cut' : ', down to the core';
  return {
    ...placed(map, piece.fromMm, piece.toMm),
    ordinal: index + 1,
    action: piece.keep ? 'unwindAndKeep' : 'discard',
    countedMm,
    countErrorMm: Math.ceil(guard.errorAt(piece.toMm, landmarkMm)),
    cutAfter,
    marginBeforeMm: firstBad === undefined ? 0 : Math.max(0, firstBad.fromMm - piece.fromMm),
    marginAfterMm: lastBad === undefined ? 0 : Math.max(0, piece.toMm - lastBad.toMm),
    landmark: seen && coming ? landmarkHint(seen, coming.fromMm) : null,
    coil,
    sentence: piece.keep
      ? `Unwind ${lengthText(countedMm)}${cut}: coil ${coil}.`
      : `Unwind ${lengthText(countedMm)}${cut}: discard.`,
  };
}

function totalsOf(map: SpoolMap, coils: readonly Coil[], donePieces: readonly DonePiece[], best: BestCuts): CutTotals {
  const unknownMm = lengthsByFate(map, 0, map.woundMm).unknown;
  const kept = coils.filter((coil) => coil.condition !== 'spoilt');
  const inCoilsMm = kept.reduce((sum, coil) => sum + coil.lengthMm, 0);
  const unknownInCoilsMm = kept.reduce((sum, coil) => sum + coil.unknownMm, 0);
  const cutOut = [...donePieces, ...best.pieces].filter((piece) => !piece.keep);
  return {
    woundMm: map.woundMm,
    keptMm: inCoilsMm - unknownInCoilsMm,
    discardedMm: map.woundMm - inCoilsMm - (unknownMm - unknownInCoilsMm),
    unknownMm,
    unknownInCoilsMm,
    goodDiscardedMm: cutOut.reduce((sum, p) => sum + p.toMm - p.fromMm - badLength(map, p.fromMm, p.toMm), 0),
    cuts: donePieces.filter((piece) => piece.toMm < map.woundMm).length + best.cuts,
  };
}

function explain(
  request: CutRequest,
  coils: readonly Coil[],
  totals: CutTotals,
  best: BestCuts,
  shortestMm: number,
): string {
  const kept = coils.filter((coil) => coil.condition !== 'spoilt');
  const inCoils = totals.keptMm + totals.unknownInCoilsMm;
  const wound = lengthText(totals.woundMm);
  if (kept.length === 1 && totals.cuts === 0 && totals.discardedMm === 0)
    return `Nothing has to be cut out: all ${wound} stay in one coil.`;
  if (kept.length === 0)
    return `Nothing of the ${wound} can be kept: no clean stretch is ${lengthText(shortestMm)} long once the margins are taken off.`;
  const coilText = kept.length === 1 ? 'one coil' : `${kept.length} coils`;
  const cutText = totals.cuts === 0 ? 'without a cut' : totals.cuts === 1 ? 'with one cut' : `with ${totals.cuts} cuts`;
  const head = `${lengthText(inCoils)} of ${wound} stay in ${coilText}, ${cutText}; ${lengthText(totals.goodDiscardedMm)} of good strand go to margins and pieces under ${lengthText(shortestMm)}.`;
  if (request.objective === 'mostLength' || best.keptMm === best.mostMm)
    return `${head} No other choice of cuts keeps more${request.objective === 'mostLength' ? ', and none keeps as much with fewer' : ''}.`;
  const share = Math.round((request.leastKeptShare ?? 0.9) * 100);
  return `${head} No choice with fewer cuts keeps ${share} % of the most that could be kept; more cuts would keep up to ${lengthText(best.mostMm - best.keptMm)} more.`;
}

function warningsFor(request: CutRequest, totals: CutTotals, coils: readonly Coil[]): string[] {
  const warnings: string[] = [];
  if (request.stillWinding === true)
    warnings.push('The spool is still being wound: its outer end, and with it every count, will move.');
  const share = totals.unknownMm / totals.woundMm;
  if (share > UNKNOWN_TO_WARN)
    warnings.push(
      `${lengthText(totals.unknownMm)} (${(share * 100).toFixed(0)} %) of the spool were never measured` +
        (totals.unknownInCoilsMm > 0
          ? `, and ${lengthText(totals.unknownInCoilsMm)} of that stay in the coils: nothing can be said about them.`
          : ' and are cut out: they may have been good.'),
    );
  for (const coil of coils) {
    if (coil.condition === 'spoilt')
      warnings.push(`Coil ${coil.name} holds a stretch that had to go: look for it with a gauge, or discard the coil.`);
    if (coil.condition === 'inDoubt')
      warnings.push(
        `A bad stretch may lie at an end of coil ${coil.name}, within the error of the count: check its ends.`,
      );
  }
  return warnings;
}

function gramsFor(request: CutRequest, lengthMm: number): number | null {
  const { densityGPerCm3, meanDiameterMm } = request;
  if (!densityGPerCm3 || !meanDiameterMm) return null;
  return gramsOfLength(lengthMm, meanDiameterMm, densityGPerCm3);
}

/** A, B, … Z, AA, AB, … */
function letters(index: number): string {
  const last = String.fromCharCode(65 + (index % 26));
  return index < 26 ? last : letters(Math.floor(index / 26) - 1) + last;
}
