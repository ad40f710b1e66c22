import { ReadingIntake } from '../../server/reading/intake.ts';
import type { IntakeOptions } from '../../server/reading/intake-options.ts';
import type { DropCause } from '../../server/reading/link-counters.ts';
import type { Reading } from '../../server/reading/reading.ts';

export const START_MS = Date.UTC(2026, 2, 14, 19);

const DEFAULTS: IntakeOptions = {
  shape: 'auto',
  checksum: 'auto',
  columnNames: [],
  roles: [],
  recordedStartMs: START_MS,
};

/** An intake that collects everything it emits. */
export class Bench {
  readonly intake: ReadingIntake;
  readonly readings: Reading[] = [];
  readonly notes: { text: string; timeMs: number }[] = [];
  readonly dropped: { cause: DropCause; raw: string }[] = [];
  readonly forgotten: string[] = [];
  readonly #sink = {
    reading: (reading: Reading) => this.readings.push(reading),
    note: (text: string, timeMs: number) => this.notes.push({ text, timeMs }),
    dropped: (cause: DropCause, raw: string) => this.dropped.push({ cause, raw }),
    forgot: (names: readonly string[]) => this.forgotten.push(...names),
  };

  constructor(options: Partial<IntakeOptions> = {}) {
    this.intake = new ReadingIntake({ ...DEFAULTS, ...options });
    this.intake.opened();
  }

  /** A reading by its index, from the end if negative. */
  reading(index: number): Reading {
    const reading = this.readings.at(index);
    if (reading === undefined) throw new RangeError(`there is no reading ${index} of ${this.readings.length}`);
    return reading;
  }

  /** Names of the signals so far. */
  get names(): string[] {
    return this.intake.layout.signals.map((signal) => signal.name);
  }

  bytes(chunk: Uint8Array, arrivalMs: number | null = null): this {
    this.intake.push(chunk, arrivalMs, this.#sink);
    return this;
  }

  text(text: string, arrivalMs: number | null = null): this {
    return this.bytes(Buffer.from(text, 'latin1'), arrivalMs);
  }

  lines(lines: readonly string[], arrivalMs: number | null = null): this {
    return this.text(lines.map((line) => `${line}\n`).join(''), arrivalMs);
  }

  /** Values of one signal; NaN = no value. */
  signal(name: string): number[] {
    return this.readings.map((reading) => {
      const column = reading.layout.signals.findIndex((signal) => signal.name === name);
      return reading.values[column] ?? Number.NaN;
    });
  }

  causes(): DropCause[] {
    return this.dropped.map((drop) => drop.cause);
  }
}

/** The line with its checksum after IEC 61162-1 / NMEA 0183. */
export function checked(line: string): string {
  const xor = Buffer.from(line, 'latin1').reduce((sum, byte) => sum ^ byte, 0);
  return `${line}*${xor.toString(16).toUpperCase().padStart(2, '0')}`;
}

/** Line number `i` of a board at 50 Hz, with `more` at its end. */
export function boardLine(i: number, more = ''): string {
  return `ms=${i * 20} n=${i} d=${(1.75 + 0.01 * Math.sin(i)).toFixed(3)} t1=${(200 + Math.cos(i)).toFixed(1)}${more}`;
}

/** `count` lines of that board, from line number `first`. */
export function boardLines(count: number, first = 0, more: (i: number) => string = () => ''): string[] {
  return Array.from({ length: count }, (_, i) => boardLine(first + i, more(first + i)));
}
