import { gramsOfLength } from '../mass.ts';
import { type BestCuts, bestCuts } from './best-cuts.ts';
import type { Coil, CutTotals, PlannedPrint } from './coil.ts';
import { nameOfCoil } from './coil-names.ts';
import { coilRepair } from './coil-repair.ts';
import { CountGuard } from './count-guard.ts';
import { CutGroups, type Piece } from './cut-groups.ts';
import { explain, warningsFor } from './cut-plan-text.ts';
import { type CutRequest, checkCutRequest, type UncertainStretch, USUAL_COUNT_ERROR } from './cut-request.ts';
import { type CutStep, cutSteps } from './cut-steps.ts';
import { type DoneCut, type DonePiece, followCuts } from './done-cuts.ts';
import { type Placed, placed } from './placed.ts';
import { assignPrints } from './print-cuts.ts';
import { badLength, lengthsByFate, mapSpool, type SpoolMap } from './spool-map.ts';
import { type StretchInDoubt, stretchesInDoubt } from './stretches-in-doubt.ts';

export interface CutPlan {
  readonly request: CutRequest;
  readonly done: readonly DoneCut[];
  readonly donePieces: readonly (Placed & {
    readonly keep: boolean;
    readonly condition: DonePiece['condition'];
    readonly knownToMm: number;
  })[];
  /** With the stretches in doubt that each of them cuts out or keeps. */
  readonly steps: readonly (CutStep & { readonly doubts: readonly StretchInDoubt[] })[];
  /** In the order of unwinding. */
  readonly coils: readonly Coil[];
  readonly prints: readonly PlannedPrint[];
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

/**
 * Plans the cuts of a spool, or of what is left of it after some cuts. To undo a cut, plan without it.
 * @throws Problem for an empty spool, an invalid request, or impossible cuts
 */
export function planCuts(request: CutRequest, done: readonly DoneCut[] = []): CutPlan {
  checkCutRequest(request);
  const map = mapSpool(request);
  const uncertain = uncertainFromOuter(request, map.woundMm);
  const guard = new CountGuard(request.countError ?? USUAL_COUNT_ERROR, uncertain);
  const { pieces: donePieces, remainder } = followCuts(map, guard, done);
  const shortestMm = Math.ceil(request.shortestCoilMm);
  const cutCoils = donePieces.filter(({ keep, condition }) => keep && condition === 'clean');
  const needsMm = printNeeds(request);
  const prints = { needsMm, cutCoilsMm: cutCoils.map(({ fromMm, toMm }) => toMm - fromMm) };
  const bestIf = (landmarks: 'confirmed' | 'unconfirmed') => {
    const groups = new CutGroups(map, remainder, guard, shortestMm, landmarks);
    return bestCuts(groups, request.objective, request.leastKeptShare ?? 0.9, prints);
  };
  const best = bestIf('confirmed');

  const coils: Coil[] = [];
  const addCoil = (piece: Piece, state: Coil['state'], donePiece: DonePiece | null): string => {
    const place = placed(map, piece.fromMm, piece.toMm);
    const userName = nameOfCoil(place, request.coilNames ?? []);
    const letter = letters(coils.length);
    const name = userName ?? `${request.spoolName} ${letter}`;
    const fates = lengthsByFate(map, piece.fromMm, piece.toMm);
    const grams = gramsFor(request, place.lengthMm);
    const offMm = guard.offBetween(piece.fromMm, piece.toMm);
    const { lengthScaleShare } = request.countError ?? USUAL_COUNT_ERROR;
    coils.push({
      ...place,
      name,
      named: userName !== null,
      letter,
      state,
      condition: donePiece?.condition ?? 'clean',
      repair: donePiece === null ? null : coilRepair(map, guard, donePiece, name, shortestMm),
      doubtfulMm: fates.doubtful,
      unknownMm: fates.unknown,
      doubts: stretchesInDoubt(map, request.stretches, piece.fromMm, piece.toMm),
      grams,
      lengthUncertaintyMm: lengthScaleShare * place.lengthMm + offMm,
      gramsUncertainty:
        grams === null ? null : grams * ((request.massShare ?? lengthScaleShare) + offMm / place.lengthMm),
    });
    return name;
  };
  for (const piece of donePieces) if (piece.keep && piece.toMm > piece.fromMm) addCoil(piece, 'cut', piece);
  const coilOf = best.pieces.map((piece) => (piece.keep ? addCoil(piece, 'planned', null) : null));
  const steps = cutSteps(map, guard, remainder, best.pieces, coilOf).map((step) => ({
    ...step,
    doubts: stretchesInDoubt(map, request.stretches, step.fromOuterMm, step.toOuterMm),
  }));
  const hasLandmarks = steps.some(({ landmarks }) => landmarks.length > 0);
  const landmarkGainMm = hasLandmarks ? Math.max(0, best.keptMm - bestIf('unconfirmed').keptMm) : 0;
  const totals = totalsOf(map, coils, donePieces, best, landmarkGainMm);
  const planned = plannedPrints(needsMm, coils);
  return {
    request,
    done,
    donePieces: donePieces.map((p) => ({
      ...placed(map, p.fromMm, p.toMm),
      keep: p.keep,
      condition: p.condition,
      knownToMm: p.knownToMm,
    })),
    steps,
    coils,
    prints: planned,
    totals,
    explanation: explain({ request, coils, totals, prints: planned, best, shortestMm }),
    warnings: warningsFor(request, totals, coils),
  };
}

function uncertainFromOuter({ uncertain }: CutRequest, woundMm: number): readonly UncertainStretch[] | undefined {
  return uncertain?.map(({ fromMm, toMm, offMm }) => ({ fromMm: woundMm - toMm, toMm: woundMm - fromMm, offMm }));
}

/** Lengths in the plan's mm: if the length scale is off, the true length of a coil may be that much shorter. */
function printNeeds({ printsMm = [], countError = USUAL_COUNT_ERROR }: CutRequest): readonly number[] {
  return printsMm.map((mm) => mm / (1 - countError.lengthScaleShare));
}

function plannedPrints(needsMm: readonly number[], coils: readonly Coil[]): PlannedPrint[] {
  const clean = coils.filter(({ condition }) => condition === 'clean');
  const assigned = assignPrints(
    needsMm,
    clean.map(({ lengthMm }) => lengthMm),
  );
  return needsMm.map((needMm, i) => {
    const coil = assigned[i] ?? null;
    return { needMm, coil: coil === null ? null : clean[coil]!.name };
  });
}

function totalsOf(
  map: SpoolMap,
  coils: readonly Coil[],
  donePieces: readonly DonePiece[],
  best: BestCuts,
  landmarkGainMm: number,
): CutTotals {
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
    landmarkGainMm,
    cuts: donePieces.filter((piece) => piece.toMm < map.woundMm).length + best.cuts,
  };
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
