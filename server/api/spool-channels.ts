import type { SampleReader } from '../monitor/ports/samples.ts';
import { gaugeSpanWhileWound, type WoundSpool } from '../monitor/spool/wound-spool.ts';
import type { CounterReadings } from '../strand/reel/counted-turns.ts';

/** A turn of a full spool is longer than a column of these. */
const COLUMNS_MAX = 4000;

/** What the line sent besides the diameter while a spool was wound. */
export class SpoolChannels {
  readonly #samples: SampleReader;
  readonly #runId: number;
  /** What is at the winder passed the gauge one path before. */
  readonly #winderStartMm: number;
  readonly #winderEndMm: number;

  constructor(samples: SampleReader, on: WoundSpool) {
    const { fromMm, toMm } = gaugeSpanWhileWound(on);
    this.#samples = samples;
    this.#runId = on.run.id;
    this.#winderStartMm = fromMm;
    this.#winderEndMm = toMm;
  }

  /** Null = the line does not send it. */
  async mean(channel: string): Promise<number | null> {
    const window = await this.#window(channel, 1);
    return window.channels[channel]?.mean[0] ?? null;
  }

  /** A counter by the position that was at the winder; null = the line does not send it. */
  async counter(channel: string): Promise<CounterReadings | null> {
    const woundMm = this.#winderEndMm - this.#winderStartMm;
    const window = await this.#window(channel, Math.min(COLUMNS_MAX, Math.max(1, Math.floor(woundMm / 10))));
    const { min } = window.channels[channel] ?? { min: [] };
    const heard = window.gaugeMm.flatMap((gaugeMm, i) =>
      gaugeMm === null || min[i] == null ? [] : [{ positionMm: gaugeMm - this.#winderStartMm, count: min[i]! }],
    );
    if (heard.length === 0) return null;
    return { positionMm: heard.map(({ positionMm }) => positionMm), count: heard.map(({ count }) => count) };
  }

  #window(channel: string, columns: number) {
    return this.#samples.window({
      runId: this.#runId,
      axis: 'length',
      from: this.#winderStartMm,
      to: this.#winderEndMm,
      columns,
      channels: [channel],
    });
  }
}
