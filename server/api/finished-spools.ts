import { wasWatched } from '../entities/run.ts';
import type { Spool } from '../entities/spool.ts';
import { REPORT_KEY } from '../escalation/message.ts';
import type { Clock } from '../monitor/clock.ts';
import type { Log } from '../monitor/log.ts';
import type { RecordReader } from '../monitor/ports/record.ts';
import type { SpoolJudge } from '../monitor/spool/spool-judge.ts';
import { messageOf } from '../problem/problem.ts';
import type { BrokerTexts } from './broker-texts.ts';

interface FinishedSpoolsParts {
  readonly reader: Pick<RecordReader, 'runs' | 'spools'>;
  readonly judge: Pick<SpoolJudge, 'judge' | 'spreadOf'>;
  readonly clock: Clock;
  readonly log: Log;
  readonly texts: Pick<BrokerTexts, 'spool'>;
  /** The spool being wound; null = none. */
  windingSpoolId(): number | null;
  /** Whether anyone is sent reports. */
  isWanted(): boolean;
  /** Up to when spools that ended have been reported, as last saved; null = never. */
  load(): number | null;
  save(untilMs: number): void;
  /** Durable when it returns, and without effect if this was reported before. */
  report(spool: { readonly key: string; readonly name: string; readonly endedMs: number; readonly json: string }): void;
}

/** @throws Error if what `save` was given is damaged */
export function readReportedUntil(text: string): number {
  const untilMs = text.trim() === '' ? Number.NaN : Number(text);
  if (!Number.isFinite(untilMs)) throw new Error('It is no time.');
  return untilMs;
}

const LOOK_EVERY_MS = 1000;
const AGAIN_AFTER_MS = 60_000;
const TRIES_MAX = 5;

/** Reports each spool that ends, also one that ended just before the service was killed. */
export class FinishedSpools {
  readonly #parts: FinishedSpoolsParts;
  #timer: NodeJS.Timeout | undefined;
  #windingId: number | null | undefined;
  #pausedUntilMs = 0;
  #lookedMs = 0;
  #tries = 0;
  #looking = false;

  constructor(parts: FinishedSpoolsParts) {
    this.#parts = parts;
  }

  start(): void {
    this.#startFromNow();
    this.#timer = setInterval(() => this.#lookIfChanged(), LOOK_EVERY_MS);
  }

  stop(): void {
    clearInterval(this.#timer);
  }

  /** What ended before the first start is no news. A time to come was written by a clock that was ahead. */
  #startFromNow(): void {
    const { load, save, clock } = this.#parts;
    const nowMs = clock();
    this.#lookedMs = nowMs;
    this.#pausedUntilMs = 0;
    if ((load() ?? Number.POSITIVE_INFINITY) > nowMs) save(nowMs);
  }

  #lookIfChanged(): void {
    const { windingSpoolId, clock, log } = this.#parts;
    try {
      if (clock() < this.#lookedMs) this.#startFromNow();
    } catch (thrown) {
      log.warn('Finished spools cannot be reported since the clock was set back', { why: messageOf(thrown) });
    }
    this.#lookedMs = clock();
    const windingId = windingSpoolId();
    if (this.#looking || windingId === this.#windingId || clock() < this.#pausedUntilMs) return;
    this.#looking = true;
    this.#look()
      .then(() => {
        this.#windingId = windingId;
        this.#tries = 0;
      })
      .catch((thrown: unknown) => {
        this.#tries += 1;
        this.#pausedUntilMs = clock() + AGAIN_AFTER_MS;
        log.warn('A finished spool could not be reported yet', { why: messageOf(thrown) });
      })
      .finally(() => {
        this.#looking = false;
      });
  }

  async #look(): Promise<void> {
    const { save, isWanted, clock } = this.#parts;
    const nowMs = clock();
    for (const spool of this.#unreported()) {
      if (isWanted()) await this.#report(spool);
      // One that ended by a clock that was ahead must not hide all others until then.
      save(Math.min(spool.endedMs, nowMs));
    }
  }

  /** In the order in which they ended. */
  #unreported(): (Spool & { readonly endedMs: number })[] {
    const { reader, load } = this.#parts;
    const untilMs = load() ?? Number.POSITIVE_INFINITY;
    const runs = reader.runs().filter((run) => wasWatched(run) && (run.endedMs === null || run.endedMs > untilMs));
    return runs
      .flatMap(({ id }) => reader.spools(id))
      .filter((spool) => spool.endedMs !== null && spool.endedMs > untilMs)
      .map((spool) => ({ ...spool, endedMs: spool.endedMs ?? untilMs }))
      .toSorted((a, b) => a.endedMs - b.endedMs);
  }

  async #report({ id, endedMs }: Spool & { readonly endedMs: number }): Promise<void> {
    const { judge, texts, report, log } = this.#parts;
    try {
      const judged = await judge.judge(id);
      const { name } = judged.woundSpool;
      const key = `${REPORT_KEY}spool-${id}-${Math.round(endedMs)}`;
      report({ key, name, endedMs, json: texts.spool(judged, await judge.spreadOf(judged.woundSpool), key) });
    } catch (thrown) {
      if (this.#tries + 1 < TRIES_MAX) throw thrown;
      // One that cannot be judged must not hold up all later ones.
      log.error('A finished spool was not reported', { spool: id, why: messageOf(thrown) });
    }
  }
}
