/** How links name a run: 3, or 2:3 for run 3 of the other line 2 of this front. A pattern, without its ends. */
export const RUN_REF = '(?:\\d{1,6}:)?\\d{1,15}';

export function refOf(lineId: number, runId: number): string {
  return lineId === 0 ? String(runId) : `${lineId}:${runId}`;
}

/** @param ref as `RUN_REF` says. `lineId`: 0 = this line */
export function partsOfRef(ref: string): { readonly lineId: number; readonly runId: number } {
  const [runId = 0, lineId = 0] = ref.split(':').map(Number).toReversed();
  return { lineId, runId };
}
