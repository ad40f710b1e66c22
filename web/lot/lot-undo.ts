import type { LotsView } from '../../server/api/contract/runs-and-spools.ts';

type RunLot = LotsView['runs'][number];
type Lot = RunLot['lot'];

/** The material of a run before it was changed, and what the change made of it. */
export interface LotBefore {
  readonly runId: number;
  readonly before: Lot;
  readonly after: Lot;
}

/** The runs whose material one change has changed. */
export function changesBetween(before: readonly RunLot[], after: readonly RunLot[]): readonly LotBefore[] {
  const lots = new Map(before.map(({ runId, lot }) => [runId, lot]));
  return after.flatMap(({ runId, lot }) => {
    const earlier = lots.get(runId);
    return earlier === undefined || isSame(earlier, lot) ? [] : [{ runId, before: earlier, after: lot }];
  });
}

/** The changes of runs that have not been changed again since. */
export function untouchedSince(changes: readonly LotBefore[], now: readonly RunLot[]): readonly LotBefore[] {
  const lots = new Map(now.map(({ runId, lot }) => [runId, lot]));
  return changes.filter(({ runId, after }) => isSame(lots.get(runId) ?? null, after));
}

/** By content, whatever the order of the fields. */
function isSame(a: Lot, b: Lot): boolean {
  return textOf(a) === textOf(b);
}

function textOf(lot: Lot): string {
  const fields = Object.entries(lot?.values ?? {}).sort(([a], [b]) => (a < b ? -1 : 1));
  return JSON.stringify([lot?.name ?? '', lot?.preparation ?? '', fields]);
}
