/** Enough for the first screen, so that a long list does not hold it up. */
const FIRST_ROWS = 20;
/** Each request repeats the rows before it, which the service has ready by then. */
const GROWS_BY = 3;

/**
 * Loads a list, the newest rows first, more and more of them until all are there: after a start, or with other limits, the service
 * has to look at each night again.
 * @param ask for at most so many rows
 */
export async function inSlices<Row>(
  ask: (newest: number) => Promise<readonly Row[]>,
  show: (rows: readonly Row[], complete: boolean) => void,
): Promise<void> {
  for (let newest = FIRST_ROWS; ; newest *= GROWS_BY) {
    const rows = await ask(newest);
    show(rows, rows.length < newest);
    if (rows.length < newest) return;
  }
}
