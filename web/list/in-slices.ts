/** Enough for the first screen, so that a long list does not hold it up. */
export const FIRST_ROWS = 12;
/** Each request repeats the rows before it, which the service has ready by then. */
const GROWS_BY = 3;

/**
 * Asks for the newest of a list, more and more of them until all are there: after a start, or with other limits, the service has
 * to look at each night again.
 * @param ask for at most so many rows or runs
 * @param show called with what is there so far
 * @returns all
 */
export async function inSlices<Answer>(
  ask: (newest: number) => Promise<Answer>,
  isComplete: (answer: Answer, newest: number) => boolean,
  show: (soFar: Answer) => void,
): Promise<Answer> {
  for (let newest = FIRST_ROWS; ; newest *= GROWS_BY) {
    const answer = await ask(newest);
    if (isComplete(answer, newest)) return answer;
    show(answer);
  }
}
