import { type JamChance, jamChance } from '../../strand/verdict/jam-chance.ts';
import type { Examination } from '../analysis/spool-analysis.ts';
import type { Judgement } from './judgement.ts';
import { positionMm } from './wound-spool.ts';

/** Whether a print from the spool jams, as wound and after cutting; null = nothing was measured, or nothing is left. */
export interface JamOnSpool {
  readonly printMm: number;
  /** Of the strand that is still on the spool. */
  readonly asWound: JamChance | null;
  /** Of the longest coil called clean. */
  readonly afterCutting: JamChance | null;
}

export function jamOnSpool(
  judged: Judgement,
  printMm: number,
  { meanPitchMm, gaugeNoiseMm }: Pick<Examination, 'meanPitchMm' | 'gaugeNoiseMm'>,
): JamOnSpool {
  const { sections, woundMm, totals, verdict, plan, woundSpool } = judged;
  const places = sections
    .filter(({ kind, verdict: ofSection }) => (kind === 'blob' || kind === 'unknown') && ofSection !== 'good')
    .map((section) => ({
      isUnknown: section.kind === 'unknown',
      isSure: section.certainty === 'sure' && section.verdict === 'discard',
      fromMm: positionMm(woundSpool, section.fromMm),
      toMm: positionMm(woundSpool, section.toMm),
    }));
  const blobs = places.filter(({ isUnknown }) => !isUnknown);
  const found = {
    count: blobs.filter(({ isSure }) => isSure).length,
    measuredMm: woundMm - totals.unknownMm,
    pitchMm: meanPitchMm,
    noiseMm: gaugeNoiseMm,
  };
  /** Its outer end is printed first. */
  const chanceOn = (innerMm: number, outerMm: number): JamChance | null => {
    const inside = blobs.filter(({ fromMm, toMm }) => toMm > innerMm && fromMm < outerMm);
    const after = ({ toMm }: { readonly toMm: number }) => Math.max(0, outerMm - toMm);
    const strand = {
      lengthMm: outerMm - innerMm,
      tooThickAtMm: inside.filter(({ isSure }) => isSure).map(after),
      inDoubtAtMm: inside.filter(({ isSure }) => !isSure).map(after),
      unmeasured: places
        .filter(({ isUnknown }) => isUnknown)
        .map(({ fromMm, toMm }) => ({ fromMm: outerMm - toMm, toMm: outerMm - fromMm })),
    };
    return jamChance(strand, found, printMm);
  };
  const cutOffMm = plan?.donePieces.reduce((most, piece) => Math.max(most, piece.toOuterMm), 0) ?? 0;
  const asWound = chanceOn(0, woundMm - cutOffMm);
  if (verdict?.afterCutting == null) return { printMm, asWound, afterCutting: asWound };
  const clean = plan?.coils.filter(({ condition }) => condition === 'clean') ?? [];
  const longest = clean.reduce<(typeof clean)[number] | null>(
    (best, coil) => (best === null || coil.lengthMm > best.lengthMm ? coil : best),
    null,
  );
  return { printMm, asWound, afterCutting: longest === null ? null : chanceOn(longest.fromMm, longest.toMm) };
}
