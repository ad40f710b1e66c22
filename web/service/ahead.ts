import { call } from './call.ts';

/** Answers requested before the code of their page has arrived, by their keys. */
const asked = new Map<string, Promise<unknown>>();

/** Requests a run while the code that shows it is still being fetched. */
export function askForRunAhead(id: number): void {
  const answer = call('GET /api/runs/:id', { params: { id } });
  // A failure is reported where the answer is used.
  answer.catch(() => undefined);
  asked.set(`run ${id}`, answer);
}

/** A run as requested ahead, once, else requested now. @throws as `call` */
export function runOnceAhead(id: number, signal: AbortSignal): ReturnType<typeof requestRun> {
  const key = `run ${id}`;
  const ahead = asked.get(key) as ReturnType<typeof requestRun> | undefined;
  asked.delete(key);
  return ahead ?? requestRun(id, signal);
}

function requestRun(id: number, signal: AbortSignal) {
  return call('GET /api/runs/:id', { params: { id }, signal });
}
