import { waitAtMost } from '../worker/wait-at-most.ts';

/** Longest wait for a source to open. */
export const OPEN_WITHIN_MS = 15_000;
/** Longest wait for a source to stop; it is then given up. */
const STOP_WITHIN_MS = 5000;

/**
 * Waits for the end of a stopped source. One that hangs is given up, so that the service can stop or use another.
 * @throws Error if it was given up
 */
export async function endOf(running: Promise<void> | null): Promise<void> {
  if (running === null) return;
  try {
    await waitAtMost(STOP_WITHIN_MS, running, () => {});
  } catch (thrown) {
    throw new Error('It was given up and may still hold its port or file.', { cause: thrown });
  }
}
