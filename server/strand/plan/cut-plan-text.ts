import type { BestCuts } from './best-cuts.ts';
import type { Coil, CutTotals, PlannedPrint } from './coil.ts';
import type { CutRequest } from './cut-request.ts';
import { lengthText } from './landmark-hint.ts';

/** Above this unmeasured share of a spool the plan warns. */
const UNKNOWN_TO_WARN = 0.05;

/** What the plan does, and why, in a few sentences. */
export function explain(plan: {
  readonly request: CutRequest;
  readonly coils: readonly Coil[];
  readonly totals: CutTotals;
  readonly prints: readonly PlannedPrint[];
  readonly best: BestCuts;
  readonly shortestMm: number;
}): string {
  const { request, coils, totals, prints, shortestMm } = plan;
  const kept = coils.filter((coil) => coil.condition !== 'spoilt');
  const inCoils = totals.keptMm + totals.unknownInCoilsMm;
  const wound = lengthText(totals.woundMm);
  const also = printsText(prints, totals.woundMm);
  if (kept.length === 1 && totals.cuts === 0)
    return `Nothing has to be cut out: all ${wound} stays in one coil.${also}`;
  if (kept.length === 0)
    return `None of the ${wound} can be kept: no clean stretch is ${lengthText(shortestMm)} long once the margins are taken off.${also}`;
  const coilText = kept.length === 1 ? 'one coil' : `${kept.length} coils`;
  const cutText = totals.cuts === 1 ? 'with one cut' : `with ${totals.cuts} cuts`;
  const gain =
    totals.landmarkGainMm > 0
      ? ` Confirm the landmarks as they pass: without them the cuts need wider margins, which cost up to ${lengthText(totals.landmarkGainMm)} more.`
      : '';
  const head = `${lengthText(inCoils)} of ${wound} stays in ${coilText}, ${cutText}; ${lengthText(totals.goodDiscardedMm)} of good strand is lost to margins and pieces under ${lengthText(shortestMm)}.`;
  return `${head}${whyText(request, plan.best, kept)}${gain}${also}`;
}

function whyText(request: CutRequest, best: BestCuts, kept: readonly Coil[]): string {
  const more = lengthText(best.mostMm - best.keptMm);
  const { objective } = request;
  if (objective === 'longestCoil')
    return ` No other choice of cuts leaves a longer coil than ${lengthText(Math.max(...kept.map(({ lengthMm }) => lengthMm)))}.`;
  if (objective === 'prints') return '';
  if (objective === 'mostLength') return ' No other choice of cuts keeps more, and none keeps as much with fewer.';
  if (best.keptMm === best.mostMm) return ' No other choice of cuts keeps more.';
  const share = Math.round((request.leastKeptShare ?? 0.9) * 100);
  return ` No choice with fewer cuts keeps ${share} % of the most that could be kept; more cuts would keep up to ${more} more.`;
}

function printsText(prints: readonly PlannedPrint[], woundMm: number): string {
  if (prints.length === 0) return '';
  const needMm = prints.reduce((sum, print) => sum + print.needMm, 0);
  const served = prints.filter(({ coil }) => coil !== null).length;
  const long =
    needMm > woundMm
      ? ` The prints need ${lengthText(needMm)} with reserve, more than the ${lengthText(woundMm)} on the spool.`
      : '';
  if (served === prints.length) return ' There is a coil for every print on the list.';
  return `${long} ${served === 0 ? `There is no coil for ${prints.length === 1 ? 'the print' : `any of the ${prints.length} prints`}` : `There is a coil for ${served} of the ${prints.length} prints`}.`;
}

/** Reasons to be careful with the plan. */
export function warningsFor(request: CutRequest, totals: CutTotals, coils: readonly Coil[]): string[] {
  const warnings: string[] = [];
  if (request.stillWinding === true)
    warnings.push('The spool is still being wound: its outer end, and with it every count, will move.');
  const share = totals.unknownMm / totals.woundMm;
  if (share > UNKNOWN_TO_WARN)
    warnings.push(
      `${lengthText(totals.unknownMm)} (${(share * 100).toFixed(0)} %) of the spool was not reliably measured` +
        (totals.unknownInCoilsMm > 0
          ? `, and ${lengthText(totals.unknownInCoilsMm)} of that stays in the coils and may hide blobs.`
          : ' and is cut out: it may have been good.'),
    );
  for (const { fromMm, toMm, offMm } of [...(request.uncertain ?? [])].reverse())
    warnings.push(
      `Between ${lengthText(totals.woundMm - toMm)} and ${lengthText(totals.woundMm - fromMm)} from the outer end, the length counter and the speed disagreed: ` +
        `places there and further in may be off by up to ${lengthText(offMm)}. The cut list allows for that until you confirm a landmark further in.`,
    );
  for (const { repair } of coils) if (repair !== null) warnings.push(repair.sentence);
  return warnings;
}
