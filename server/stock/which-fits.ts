import { lengthOfAmountMm, type PrintAmount, withReserveMm } from '../strand/verdict/print-fit.ts';
import type { Fitness } from '../strand/verdict/spool-verdict.ts';

export interface StrandOnOffer {
  readonly code: string;
  readonly name: string;
  readonly leftMm: number;
  /** k = 2. */
  readonly leftUncertaintyMm: number;
  readonly isAtMost: boolean;
  /** For the printer that was asked for. */
  readonly fitness: Fitness;
  /** Fit after cutting: the longest piece that will be left in one; null = not known, so the whole. */
  readonly longestPieceMm: number | null;
  readonly nominalMm: number;
  readonly densityGPerCm3: number;
}

interface FitOfOne {
  readonly code: string;
  readonly answer: 'fits' | 'perhaps' | 'tooShort' | 'notFit';
  readonly leftOverMm: number | null;
  readonly sentence: string;
}

export interface ShelfFit {
  /** Best first: all that fit, then those that may. */
  readonly fits: readonly FitOfOne[];
  /** The longest first. */
  readonly others: readonly FitOfOne[];
  readonly sentence: string;
}

const QUALITY: readonly Fitness[] = ['fit', 'fitAfterCutting', 'unknown', 'notFit'];
const CALLED: Record<Fitness, string> = {
  fit: '',
  fitAfterCutting: ' Cut it first: follow its cut list.',
  unknown: ' Whether it prints well is not known.',
  notFit: '',
};

/** Which strand on the shelf is long enough for a print: the best, and of equally good ones the one with least left over. */
export function whichFits(shelf: readonly StrandOnOffer[], print: PrintAmount): ShelfFit {
  const answers = shelf.map((one) => ({ one, fit: fitOfOne(one, print) }));
  const fitting = answers
    .filter(({ fit }) => fit.answer === 'fits' || fit.answer === 'perhaps')
    .sort(
      (a, b) =>
        Number(a.fit.answer === 'perhaps') - Number(b.fit.answer === 'perhaps') ||
        QUALITY.indexOf(a.one.fitness) - QUALITY.indexOf(b.one.fitness) ||
        (a.fit.leftOverMm ?? 0) - (b.fit.leftOverMm ?? 0),
    );
  const others = answers
    .filter(({ fit }) => fit.answer === 'tooShort' || fit.answer === 'notFit')
    .sort(
      (a, b) => Number(a.fit.answer === 'notFit') - Number(b.fit.answer === 'notFit') || b.one.leftMm - a.one.leftMm,
    );
  return { fits: fitting.map(({ fit }) => fit), others: others.map(({ fit }) => fit), sentence: answer() };

  function answer(): string {
    const [best] = fitting;
    if (shelf.length === 0) return 'The shelf is empty.';
    if (best !== undefined) {
      const { name } = best.one;
      if (best.fit.answer === 'fits') return `Take ${name}: ${best.fit.sentence}`;
      return `No coil is certain to be long enough. ${name} may be: ${best.fit.sentence}`;
    }
    const [longest] = others.filter(({ fit }) => fit.answer === 'tooShort');
    if (longest === undefined) return 'Nothing on the shelf suits this printer.';
    return `No coil is long enough. The longest is ${longest.one.name}. ${longest.fit.sentence}`;
  }
}

function fitOfOne(one: StrandOnOffer, print: PrintAmount): FitOfOne {
  const options = { diameterMm: one.nominalMm, densityGPerCm3: one.densityGPerCm3 };
  const needMm = lengthOfAmountMm(print, options);
  const allMm = withReserveMm(print, options);
  const isCut = one.fitness === 'fitAfterCutting';
  const mm = isCut ? Math.min(one.leftMm, one.longestPieceMm ?? one.leftMm) : one.leftMm;
  const u = one.leftUncertaintyMm;
  const { code } = one;
  if (one.fitness === 'notFit')
    return {
      code,
      answer: 'notFit',
      leftOverMm: null,
      sentence: 'Its strand is not fit for this printer, whatever its length.',
    };
  const has = `${one.isAtMost ? 'at most ' : ''}${plusMinus(mm, u)} ${isCut && mm < one.leftMm ? 'in its longest piece' : 'left'}`;
  if (mm + u < allMm) {
    const reserve = `the print needs ${metres(needMm)} and ${metres(allMm - needMm)} in reserve for purging, skirt and a failed first layer`;
    const sentence = mm >= needMm ? `Just too short: ${has}, but ${reserve}.` : `Too short: ${has}.`;
    return { code, answer: 'tooShort', leftOverMm: mm - allMm, sentence };
  }
  const leftOverMm = mm - allMm;
  if (mm - u < allMm || one.isAtMost) {
    const why = one.isAtMost
      ? `${has}; how much the last print used was not recorded. Weigh it.`
      : `${has}, not certain enough for ${metres(allMm)} with reserve. Weigh it.`;
    return { code, answer: 'perhaps', leftOverMm, sentence: `${capital(why)}${CALLED[one.fitness]}` };
  }
  return {
    code,
    answer: 'fits',
    leftOverMm,
    sentence: `${plusMinus(leftOverMm, u)} will be left.${CALLED[one.fitness]}`,
  };
}

function capital(text: string): string {
  return text.charAt(0).toUpperCase() + text.slice(1);
}

function metres(mm: number): string {
  return `${(mm / 1000).toFixed(1)} m`;
}

function plusMinus(mm: number, uncertaintyMm: number): string {
  return `${(mm / 1000).toFixed(1)} ± ${(uncertaintyMm / 1000).toFixed(1)} m`;
}
