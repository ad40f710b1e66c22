import type { CoilDetail } from '../../server/api/contract/cut-plan.ts';
import type { SpoolJudgement } from '../../server/api/contract/judgement.ts';
import type { SpoolView } from '../../server/api/contract/runs-and-spools.ts';
import { listed } from '../../server/problem/sentence.ts';
import { KIND_TEXT, SHORT_DOUBT } from '../../server/strand/section-names.ts';
import { diameter, gramsWithError, metres, metresWithError } from '../format/numbers.ts';
import { FITNESS_TEXT, flowSetting } from '../judgement/fitness-text.ts';

/** The texts on one label. */
export interface LabelText {
  /** As printed: with the code of the house, unless a user named it. */
  readonly name: string;
  /** Unique among houses, and what the code leads to. */
  readonly code: string;
  /** Which end feeds first. */
  readonly feeds: string;
  /** What whoever prints from it must know: "In doubt: blob, one reading only", "First cut 0.84 m off its inner end". */
  readonly cautions: readonly string[];
  /** The amount of strand, in large type. */
  readonly length: string;
  readonly mass: string;
  /** Names and values. */
  readonly facts: readonly (readonly [string, string])[];
  readonly verdict: string;
  readonly coils: string;
}

const SHOWN_COILS = 8;
const SHOWN_DOUBTS = 2;

/** A spool as it is now, without what was cut off. `coils` = those still on it. */
export function spoolLabel(
  judgement: SpoolJudgement,
  { woundMm, cutOffMm, doubtfulMm, code }: Pick<SpoolView, 'woundMm' | 'cutOffMm' | 'doubtfulMm' | 'code'>,
  coils: readonly CoilDetail[],
): LabelText {
  const { statistics, verdict, flow } = judgement;
  const onShare = woundMm > 0 ? (woundMm - cutOffMm) / woundMm : 1;
  const facts: (readonly [string, string])[] = [];
  if (statistics) facts.push(['Mean ± σ', `${diameter(statistics.meanMm)} ± ${diameter(statistics.sdMm)} mm`]);
  // The start of this stretch may already be cut off.
  if (cutOffMm > 0) facts.push(['Cut off', `${metres(cutOffMm, 1)} m`]);
  else if (verdict?.longestCleanPiece)
    facts.push(['Longest clean', `${metres(verdict.longestCleanPiece.lengthMm, 1)} m`]);
  if (flow) facts.push(['Flow', flowSetting(flow.flowMultiplier)]);
  return {
    name: code,
    code,
    feeds: 'Feeds first: outer end',
    cautions: doubtfulMm > 0 ? [`In doubt: ${metres(doubtfulMm)} m, see the cut list`] : [],
    length: metresWithError(judgement.woundMm * onShare, judgement.woundUncertaintyMm * onShare),
    mass: gramsWithError(judgement.mass.grams * onShare, judgement.mass.gramsUncertainty * onShare),
    facts,
    verdict: verdict === null ? '' : fitnessFor(verdict.fitness, nameOfPrinter(judgement)),
    coils: verdict?.fitness === 'fit' ? '' : coilNames(coils.map((one) => one.coil.name)),
  };
}

export function coilLabel(detail: CoilDetail, printerName: string): LabelText {
  const { coil, statistics, verdict, flow } = detail;
  const facts: (readonly [string, string])[] = [];
  if (statistics) facts.push(['Mean ± σ', `${diameter(statistics.meanMm)} ± ${diameter(statistics.sdMm)} mm`]);
  if (coil.doubtfulMm > 0) facts.push(['Doubtful', `${metres(coil.doubtfulMm)} m`]);
  if (flow) facts.push(['Flow', flowSetting(flow.flowMultiplier)]);
  const verdictLine =
    coil.condition === 'spoilt'
      ? 'Do not print: contains a bad stretch'
      : coil.condition === 'inDoubt'
        ? 'Check its ends'
        : verdict
          ? fitnessFor(verdict.fitness, printerName)
          : '';
  return {
    name: coil.named ? coil.name : printedName(coil.code),
    code: coil.code,
    feeds: 'Feeds first: end cut last',
    cautions: [
      ...(coil.repair ? [firstOf(coil.repair)] : []),
      ...doubtsOf(coil.doubts),
      ...(coil.unknownMm > 0 ? [`Not measured: ${metres(coil.unknownMm)} m`] : []),
    ],
    length: metresWithError(coil.lengthMm, coil.lengthUncertaintyMm),
    mass: coil.grams === null ? '' : gramsWithError(coil.grams, coil.gramsUncertainty ?? 0),
    facts,
    verdict: verdictLine,
    coils: '',
  };
}

/** "K7M-R3-1 A" */
function printedName(code: string): string {
  return code.replace(/-([A-Z]+)$/, ' $1');
}

function doubtsOf(doubts: CoilDetail['coil']['doubts']): string[] {
  const texts = new Set(
    doubts.map(
      ({ kind, doubt }) => `${KIND_TEXT[kind].toLowerCase()}, ${doubt === null ? 'doubtful' : SHORT_DOUBT[doubt]}`,
    ),
  );
  const shown = [...texts].slice(0, SHOWN_DOUBTS);
  const more = texts.size - shown.length;
  return texts.size === 0 ? [] : [`In doubt: ${shown.join('; ')}${more > 0 ? `; ${more} more, see the code` : ''}`];
}

/** What saves a coil: "First cut 0.84 m off its inner end". */
function firstOf({ outerMm, innerMm, leftMm }: NonNullable<CoilDetail['coil']['repair']>): string {
  if (leftMm <= 0) return 'Discard it';
  if (outerMm > 0 && innerMm > 0) return `First cut off ${metres(outerMm)} m outside and ${metres(innerMm)} m inside`;
  return outerMm > 0
    ? `First cut ${metres(outerMm)} m off its outer end`
    : `First cut ${metres(innerMm)} m off its inner end`;
}

/** The printer's name as in the list of printers. */
export function nameOfPrinter({ printer, printerName }: SpoolJudgement): string {
  return printer?.name ?? printerName;
}

/** "Fit to print. Judged for: the blue printer". */
function fitnessFor(fitness: keyof typeof FITNESS_TEXT, printer: string): string {
  return `${FITNESS_TEXT[fitness]}. Judged for: ${printer}`;
}

/** "R3-1 A, B and C": the common part of the names appears once; many names become a count. */
export function coilNames(names: readonly string[]): string {
  const [first = ''] = names;
  const stem = first.slice(0, first.lastIndexOf(' ') + 1);
  const short = names.map((name, i) =>
    i > 0 && stem !== '' && name.startsWith(stem) ? name.slice(stem.length) : name,
  );
  const shown = short.slice(0, SHOWN_COILS);
  const more = short.length - shown.length;
  if (more > 0) return `${shown.join(', ')} and ${more} more`;
  return listed(shown);
}
