import type { SampleReader } from '../monitor/ports/samples.ts';
import { gaugeSpanWhileWound, strandOn, type WoundSpool } from '../monitor/spool/wound-spool.ts';
import { spoolPositionMm } from '../strand/position.ts';
import type { CounterReadings } from '../strand/reel/counted-turns.ts';

/** Enough that each column is shorter than a turn of a full spool. */
const COLUMNS_MAX = 4000;

/** Signals other than the diameter while a spool was wound. */
export class SpoolSignals {
  readonly #samples: SampleReader;
  readonly #runId: number;
  readonly #woundSpool: WoundSpool;
  /** Gauge lengths while this spool was at the winder. */
  readonly #winderStartMm: number;
  readonly #winderEndMm: number;

  constructor(samples: SampleReader, woundSpool: WoundSpool) {
    const { fromMm, toMm } = gaugeSpanWhileWound(woundSpool);
    this.#samples = samples;
    this.#runId = woundSpool.run.id;
    this.#woundSpool = woundSpool;
    this.#winderStartMm = fromMm;
    this.#winderEndMm = toMm;
  }

  /** null = the line does not send it. */
  async mean(signal: string): Promise<number | null> {
    const window = await this.#window(signal, 1);
    return window.signals[signal]?.mean[0] ?? null;
  }

  /** Readings of a counter by true position at the winder; null = the line does not send it. */
  async counter(signal: string): Promise<CounterReadings | null> {
    const woundMm = this.#winderEndMm - this.#winderStartMm;
    const window = await this.#window(signal, Math.min(COLUMNS_MAX, Math.max(1, Math.floor(woundMm / 10))));
    const { min } = window.signals[signal] ?? { min: [] };
    const values = window.gaugeMm.flatMap((gaugeMm, i) => {
      const count = min[i] ?? null;
      if (gaugeMm === null || count === null) return [];
      const atWinderMm = gaugeMm - this.#woundSpool.settings.gaugeToWinderMm;
      return [{ positionMm: spoolPositionMm(atWinderMm, strandOn(this.#woundSpool)), count }];
    });
    if (values.length === 0) return null;
    return { positionMm: values.map(({ positionMm }) => positionMm), count: values.map(({ count }) => count) };
  }

  #window(signal: string, columns: number) {
    return this.#samples.window({
      runId: this.#runId,
      axis: 'length',
      from: this.#winderStartMm,
      to: this.#winderEndMm,
      columns,
      signals: [signal],
    });
  }
}
