import type { WindowView } from '../../server/api/contract/runs-and-spools.ts';
import { gaugeLengthMm, type StrandOnWinder, spoolPositionMm, withoutCutOuts } from '../../server/strand/position.ts';
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

/** A window by position on a spool, mm from its inner end. */
export type SpoolWindowQuestion = Omit<WindowQuestion, 'axis'>;

const TYPE = 'application/vnd.strandward.window';

interface SharedRequest {
  readonly signals: Set<string>;
  readonly answer: Promise<WindowView>;
  /** Callers that still wait for it. */
  waiting: number;
  readonly cancel: AbortController;
}

/** Requests that are sent at the end of the current task. */
const shared = new Map<string, SharedRequest>();

/**
 * Requests a window of stored readings. It is sent as arrays of numbers: a third of the bytes of JSON, and no parsing. Charts
 * that zoom together ask for the same window with other signals at the same time; they share one request.
 * @throws ServiceProblem; AbortError if `signal` was aborted
 */
export async function requestWindow(runId: number, question: WindowQuestion, signal: AbortSignal): Promise<WindowView> {
  const { axis, from, to, columns } = question;
  const key = [runId, axis, from, to, columns].join(' ');
  let one = shared.get(key);
  if (one === undefined) {
    const signals = new Set<string>();
    const cancel = new AbortController();
    const answer = Promise.resolve().then(() => {
      shared.delete(key);
      return sendQuestion(runId, { ...question, signals: [...signals] }, cancel.signal);
    });
    one = { signals, answer, waiting: 0, cancel };
    shared.set(key, one);
  }
  const request = one;
  for (const name of question.signals) request.signals.add(name);
  request.waiting += 1;
  signal.addEventListener('abort', () => {
    request.waiting -= 1;
    if (request.waiting === 0) request.cancel.abort();
  });
  const window = await request.answer;
  signal.throwIfAborted();
  return window;
}

async function sendQuestion(runId: number, question: WindowQuestion, signal: AbortSignal): Promise<WindowView> {
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

/**
 * As `requestWindow`, by position on a spool. Readings are stored by gauge length, so strand that was cut out divides a window:
 * each piece is requested with its share of the columns.
 */
export async function requestSpoolWindow(
  runId: number,
  strand: StrandOnWinder,
  { from, to, columns, signals }: SpoolWindowQuestion,
  signal: AbortSignal,
): Promise<WindowView> {
  const columnAt = (gaugeMm: number) => Math.round(((spoolPositionMm(gaugeMm, strand) - from) / (to - from)) * columns);
  const pieces = withoutCutOuts(gaugeLengthMm(from, strand), gaugeLengthMm(to, strand), strand.cutOuts);
  const windows = await Promise.all(
    pieces.flatMap(({ fromMm, toMm }) => {
      const of = columnAt(toMm) - columnAt(fromMm);
      const question = { axis: 'length', from: fromMm, to: toMm, columns: of, signals } as const;
      return of > 0 ? [requestWindow(runId, question, signal)] : [];
    }),
  );
  return { ...joined(windows, signals), from, to };
}

function joined(windows: readonly WindowView[], signals: readonly string[]): WindowView {
  const [first] = windows;
  if (first !== undefined && windows.length === 1) return first;
  const all = <T>(of: (window: WindowView) => readonly T[] | undefined): T[] =>
    windows.flatMap((window) => of(window) ?? []);
  return {
    axis: 'length',
    from: 0,
    to: 0,
    count: all(({ count }) => count),
    timeMs: all(({ timeMs }) => timeMs),
    gaugeMm: all(({ gaugeMm }) => gaugeMm),
    signals: Object.fromEntries(
      signals.map((name) => [
        name,
        {
          min: all((window) => window.signals[name]?.min),
          max: all((window) => window.signals[name]?.max),
          mean: all((window) => window.signals[name]?.mean),
        },
      ]),
    ),
  };
}
