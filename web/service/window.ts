import type { WindowView } from '../../server/api/contract/runs-and-spools.ts';
import { ask } from './request.ts';
import { windowOf } from './window-bytes.ts';

export interface WindowQuestion {
  readonly axis: 'time' | 'length';
  /** UTC ms or gauge length in mm. */
  readonly from: number;
  readonly to: number;
  readonly columns: number;
  readonly signals: readonly string[];
}

const TYPE = 'application/vnd.strandward.window';

/**
 * Requests a window of stored readings. It is sent as arrays of numbers: a third of the bytes of JSON, and no parsing.
 * @throws ServiceProblem; AbortError if `signal` was aborted
 */
export async function requestWindow(runId: number, question: WindowQuestion, signal: AbortSignal): Promise<WindowView> {
  const query = new URLSearchParams({
    axis: question.axis,
    from: String(question.from),
    to: String(question.to),
    columns: String(question.columns),
    signals: question.signals.join(),
  });
  const path = `/api/runs/${runId}/window?${query}`;
  return windowOf(await ask('GET', path, TYPE, (answer) => answer.arrayBuffer(), undefined, signal));
}
