import type { CandidateLine } from './candidate-line.ts';
import type { Binding, LayoutBuilder } from './layout-builder.ts';
import { LostLines } from './line-sequence.ts';
import type { LinkTally } from './link-counters.ts';
import type { Layout, Reading } from './reading.ts';
import { type ClockOptions, ReadingClock } from './reading-clock.ts';
import { ValueLines } from './value-lines.ts';

/** Builds dated readings from accepted lines; from several lines each, if a board prints its values on several lines. */
export class ReadingBuilder {
  readonly #layouts: LayoutBuilder;
  readonly #tally: LinkTally;
  readonly #clock: ReadingClock;
  readonly #lostLines = new LostLines();
  readonly #valueLines = new ValueLines();
  // Reused for every line, for speed.
  readonly #timing = {
    uptimeMs: Number.NaN,
    countMs: 1,
    numberContinued: null as boolean | null,
    lost: 0,
    arrivalMs: null as number | null,
    linesAfter: 0,
  };
  /** Values of the lines that are being collected into one reading; null = none. */
  #collecting: number[] | null = null;
  #noValues: number[] = [];
  /** Values for the next reading, by column; null = none. */
  #held: ReadonlyMap<number, number> | null = null;

  constructor(options: ClockOptions, layouts: LayoutBuilder, tally: LinkTally) {
    this.#layouts = layouts;
    this.#tally = tally;
    this.#clock = new ReadingClock(options);
  }

  /** Time of the last reading, UTC ms; NaN = none yet. */
  get timeMs(): number {
    return this.#clock.timeMs;
  }

  /** Readings so far that had waited and whose lines have no clock, so that their times are not certain. */
  get spreadReadings(): number {
    return this.#clock.spreadLines;
  }

  /** A new connection was opened. */
  opened(): void {
    this.#clock.opened();
    this.discard();
  }

  /** The clock by which arrivals are dated was set. */
  clockMoved(byMs: number): void {
    this.#clock.clockMoved(byMs);
  }

  /** Discard what has been collected of a reading. */
  discard(): void {
    this.#valueLines.reset();
    this.#collecting = null;
  }

  /**
   * Give the next reading values that were sent before, unless it has its own.
   * @param values as sent, one per field of the binding; NaN = none
   */
  hold({ columns, factors, offsets }: Binding, values: readonly number[]): void {
    const held = values.flatMap((value, i): [number, number][] =>
      Number.isNaN(value) ? [] : [[columns[i]!, value * factors[i]! + offsets[i]!]],
    );
    this.#held = new Map(held);
  }

  add(line: CandidateLine, binding: Binding, sink: { reading(reading: Reading): void } | null): void {
    const place = this.#valueLines.next(line.form);
    if (place !== 'next' && this.#collecting !== null) this.#complete(this.#collecting, sink);
    const values = place === 'next' && this.#collecting !== null ? this.#collecting : this.#blank(this.#layouts.layout);
    const { columns, factors, offsets, largest } = binding;
    for (let i = 0; i < columns.length; i++) {
      const column = columns[i]!;
      if (column < 0) continue;
      const value = line.values[i]! * factors[i]! + offsets[i]!;
      values[column] = Math.abs(value) <= largest[i]! ? value : Number.NaN;
    }
    if (line.arrivalMs !== null) this.#layouts.used(binding, line.arrivalMs);
    this.#lostLines.next(line.number);
    const timing = this.#timing;
    if (place !== 'next' || !Number.isNaN(line.uptimeMs)) {
      timing.uptimeMs = line.uptimeMs;
      timing.countMs = binding.uptimeFactor;
      timing.numberContinued = this.#lostLines.continued;
      timing.lost = this.#lostLines.lost;
    }
    timing.arrivalMs = line.arrivalMs;
    timing.linesAfter = line.linesAfter;
    if (place === 'single') this.#complete(values, sink);
    else this.#collecting = values;
  }

  #blank({ signals }: Layout): number[] {
    if (this.#noValues.length < signals.length) this.#noValues = signals.map(() => Number.NaN);
    return this.#noValues.slice();
  }

  #complete(values: number[], sink: { reading(reading: Reading): void } | null): void {
    this.#collecting = null;
    if (this.#held !== null) {
      for (const [column, value] of this.#held) if (Number.isNaN(values[column])) values[column] = value;
      this.#held = null;
    }
    const clock = this.#clock;
    clock.assignTime(this.#timing);
    const { layout } = this.#layouts;
    if (this.#layouts.derivesDiameter) {
      values[layout.diameter] = (values[layout.diameterX]! + values[layout.diameterY]!) / 2;
    }
    const lost = clock.restarted ? 0 : this.#timing.lost;
    const lostBefore = Math.max(lost, clock.missing);
    this.#tally.readings++;
    this.#tally.lost += lost;
    if (clock.restarted) this.#tally.restarts++;
    sink?.reading({ timeMs: clock.timeMs, layout, values, lostBefore, restarted: clock.restarted });
  }
}
