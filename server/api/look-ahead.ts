import { setTimeout as pause } from 'node:timers/promises';
import type { Logger } from 'pino';
import type { LineValues } from '../monitor/run/line-values.ts';
import type { RecordViews } from './record-views.ts';

/** The line is watched first, and a page that is open gets its answers. */
const START_AFTER_MS = 10_000;
/** It rests so many times as long as the last night took, which leaves nine tenths of a processor to everything else. */
const REST_TIMES = 9;
const REST_LEAST_MS = 20;

/**
 * Looks at all ended runs once after a start, newest first, so that lists of them open at once: the first look at a night takes
 * a few milliseconds, and up to a second after an update that examines its readings differently.
 * @param rest waits so many milliseconds, unless it is cancelled
 * @returns stops it
 */
export function lookAhead(
  parts: { readonly views: RecordViews; readonly lineValues: LineValues; readonly logger: Pick<Logger, 'warn'> },
  rest = (ms: number, cancelled: AbortSignal): Promise<unknown> => pause(ms, null, { signal: cancelled, ref: false }),
): () => void {
  const cancel = new AbortController();
  const look = async () => {
    const { views, lineValues, logger } = parts;
    await rest(START_AFTER_MS, cancel.signal);
    for (const run of views.endedRuns()) {
      const startedMs = performance.now();
      try {
        await views.prepare(run);
        await lineValues.of(run);
      } catch (thrown) {
        if (cancel.signal.aborted) return;
        // Not serious: a request for this run answers with what is wrong with it.
        logger.warn({ run: run.id, why: String(thrown) }, 'A run could not be looked at ahead');
      }
      await rest(Math.max(REST_LEAST_MS, REST_TIMES * (performance.now() - startedMs)), cancel.signal);
    }
  };
  look().catch((thrown) => {
    if (!cancel.signal.aborted) parts.logger.warn({ why: String(thrown) }, 'The runs could not be looked at ahead');
  });
  return () => cancel.abort();
}
