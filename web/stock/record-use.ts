import type { StockDetail, UseInput } from '../../server/api/contract/stock.ts';
import { metresWithError } from '../format/numbers.ts';
import { call } from '../service/call.ts';
import { asProblem } from '../service/request.ts';
import { showNotice } from '../shell/notice.tsx';

/**
 * Sends a statement about a coil or spool, and offers to undo it.
 * @param said what was recorded, as a sentence
 * @param changed called with each new state
 */
export async function recordUse(
  code: string,
  body: UseInput,
  said: string,
  changed: (detail: StockDetail) => void,
): Promise<void> {
  const detail = await call('POST /api/stock/:code/uses', { params: { code }, body });
  changed(detail);
  showNotice({
    text: `${said} ${leftText(detail.item)}`,
    undo: () => void undoUse(code, detail.item.lastEntryId, changed),
  });
}

/** Undoes one entry, or reports why not. */
export async function undoUse(code: string, id: number, changed: (detail: StockDetail) => void): Promise<void> {
  try {
    const detail = await call('DELETE /api/stock/:code/uses/:id', { params: { code, id } });
    changed(detail);
    showNotice({ text: `Undone. ${leftText(detail.item)}` });
  } catch (thrown) {
    const { message, detail } = asProblem(thrown);
    showNotice({ text: `${message} ${detail}` });
  }
}

/** "About 30.2 ± 0.9 m is left." */
export function leftText({ leftMm, leftUncertaintyMm, isAtMost, usedUpBy }: StockDetail['item']): string {
  if (usedUpBy !== null) return 'Nothing is left.';
  return `${isAtMost ? 'At most' : 'About'} ${metresWithError(leftMm, leftUncertaintyMm)} is left.`;
}
