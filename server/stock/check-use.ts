import type { StrandUse } from '../entities/strand-use.ts';
import { Problem } from '../problem/problem.ts';
import { PRINT_AMOUNT_MAX } from '../strand/verdict/print-fit.ts';
import { type CoilStock, coilStock, type WholeStrand } from './coil-stock.ts';

/**
 * Checks what a user states about a strand that may have been used before.
 * @param name of the coil or spool, for the sentence
 * @throws Problem `bad-length` for an amount that cannot be, `wrong-state` for strand that is used up
 */
export function requirePossible(
  use: Pick<StrandUse, 'kind' | 'used' | 'print'>,
  before: readonly StrandUse[],
  whole: WholeStrand,
  name: string,
): void {
  const stock = coilStock(whole, before);
  const { kind, used, print } = use;
  // A flaw of a finished print is often seen later.
  const isLate = kind === 'flawed' && stock.prints.at(-1)?.outcome === 'finished';
  if (stock.usedUp !== null && !isLate)
    throw new Problem(
      'wrong-state',
      `${name} is used up: ${stock.usedUp.who} recorded that nothing is left.`,
      'Check the code of the coil. If strand is left, undo that entry first.',
    );
  if (used === null && kind === 'used')
    throw wrong('The amount used is missing.', 'Give metres or grams, or say that all of it was used.', '/used');
  if (used?.unit === 'all' && (kind === 'jammed' || kind === 'started'))
    throw wrong(
      '“All of it” does not say where in the print.',
      'Give metres, grams or per cent of the print.',
      '/used/unit',
    );
  for (const [pointer, one] of [
    ['/used/amount', used?.unit === 'all' ? null : used],
    ['/print/amount', print],
  ] as const)
    if (one !== null && !(one.amount > 0 && one.amount <= (one.unit === 'percent' ? 100 : PRINT_AMOUNT_MAX)))
      throw wrong(
        one.unit === 'percent' ? `${one.amount} % of a print is impossible.` : 'The amount is not possible.',
        one.unit === 'percent' ? 'Give more than 0 % and at most 100 %.' : 'Give metres or grams above zero.',
        pointer,
      );
  const [needs] = [print ?? (stock.prints.at(-1)?.isRunning === true ? stock.prints.at(-1)!.needs : null)];
  if (used?.unit === 'percent' && kind === 'used')
    throw wrong('Per cent works only for a print.', 'Give metres or grams.', '/used/unit');
  if (used?.unit === 'percent' && needs === null)
    throw wrong(
      `${used.amount} % of a print whose length is not known cannot be placed on the strand.`,
      'Also say how much the whole print needs, or give metres or grams.',
      '/print',
    );
  requireLeft(use, before, stock, whole, name);
}

/** @throws Problem `bad-length` if more is used than can be left */
function requireLeft(
  use: Pick<StrandUse, 'kind' | 'used' | 'print'>,
  before: readonly StrandUse[],
  stock: CoilStock,
  whole: WholeStrand,
  name: string,
): void {
  if (use.used?.unit === 'all') return;
  const told = {
    ...use,
    id: 0,
    atMs: 0,
    who: '',
    printer: null,
    called: null,
    place: NOWHERE,
    feeds: 'inner',
  } as const;
  /** As if the strand had no end. */
  const goneMm = (uses: readonly StrandUse[]) => {
    const endless = coilStock({ ...whole, lengthMm: ENDLESS_MM, lengthUncertaintyMm: 0 }, uses);
    return { mm: ENDLESS_MM - endless.leftMm, uncertaintyMm: endless.leftUncertaintyMm };
  };
  const after = goneMm([...before, told]);
  const statedMm = after.mm - goneMm(before).mm;
  if (statedMm <= 0 || after.mm - Math.hypot(after.uncertaintyMm, whole.lengthUncertaintyMm) <= whole.lengthMm) return;
  const left = `${stock.isAtMost ? 'at most' : 'about'} ${metres(stock.leftMm)}`;
  throw wrong(
    `${name} has ${left} left, not ${metres(statedMm)}.`,
    'Give less, say that all of it was used, or undo an earlier entry that is wrong.',
    use.used === null ? '/print/amount' : '/used/amount',
  );
}

const NOWHERE = { fromGaugeMm: 0, toGaugeMm: 0 };
const ENDLESS_MM = 1e12;

/** "4 m", "3.6 m" below ten metres. */
function metres(mm: number): string {
  return `${(mm / 1000).toFixed(mm < 10_000 ? 1 : 0)} m`;
}

function wrong(message: string, remedy: string, pointer: string): Problem {
  return new Problem('bad-length', message, remedy, { pointer });
}
