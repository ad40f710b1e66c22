import type { StrandUse, UseAmount } from '../../entities/strand-use.ts';
import type { PrintAmount } from '../../strand/verdict/print-fit.ts';

/** A statement as the log has it: "Recorded 32 m used", "Noted a print: jammed at 40 % of 48 m, on Bench". */
export function useText({
  kind,
  used,
  print,
  printer,
}: Pick<StrandUse, 'kind' | 'used' | 'print' | 'printer'>): string {
  if (kind === 'used') return `Recorded ${used === null ? 'strand' : amountText(used)} used`;
  const where = used === null ? '' : kind === 'finished' ? ` after ${amountText(used)}` : ` at ${amountText(used)}`;
  const of =
    print === null ? '' : used?.unit === 'percent' ? ` of ${amountText(print)}` : ` (needs ${amountText(print)})`;
  return `Noted a print: ${kind}${where}${of}${printer === null ? '' : `, on ${printer}`}`;
}

const UNIT = { metres: 'm', grams: 'g', percent: '%' } as const;

function amountText(amount: UseAmount | PrintAmount): string {
  return amount.unit === 'all' ? 'all that was left' : `${amount.amount} ${UNIT[amount.unit]}`;
}
