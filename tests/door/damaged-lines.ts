import type { IntakeOptions, IntakeSink } from '../../server/reading/intake-options.ts';
import type { Reading } from '../../server/reading/reading.ts';
import { seeded } from '../chance.ts';
import { START_MS } from '../reading/intake-bench.ts';

/** What is needed of an intake, so that another version of it can be measured too. */
export interface AnyIntake {
  opened(): void;
  push(chunk: Uint8Array, arrivalMs: number | null, sink: IntakeSink): void;
}

/** Prints everything of cycle `i`, with line ends. */
export type PrintCycle = (i: number) => Uint8Array;

export interface Damaged {
  readonly lines: number;
  /** Damaged lines of which a value became a reading that the board did not send. */
  believed: number;
  /** Of those, with a value that is no number in what arrived. */
  invented: number;
  /** Not among them: believed because a checksum fits by chance in spite of the damage. */
  fitting: number;
  /** Of the believed ones, those in which only one bit was flipped; and how many of these there were. */
  flipsBelieved: number;
  flips: number;
  /** Names that the board does not send. */
  readonly newNames: Set<string>;
}

const OPTIONS: IntakeOptions = {
  shape: 'auto',
  checksum: 'auto',
  columnNames: [],
  roles: [],
  recordedStartMs: START_MS,
};
const TEACH = 80;
/** A new intake after so many damaged lines, so that what the damage taught it is forgotten. */
const LINES_EACH = 1000;
/** Undamaged cycles after a damaged one: what was held back is decided by then. */
const CLEAN_AFTER = 2;
const CYCLES_OF_A_READING = 15;
const LINES_WAITING = 4;
const READINGS_KEPT = 4 * (LINES_WAITING + 1) * (CLEAN_AFTER + 1);

/** Damage `lines` lines, one at a time among good ones, and compare what is read with what was sent. */
export function damageLines(
  make: (options: IntakeOptions) => AnyIntake,
  print: PrintCycle,
  lines: number,
  seed: number,
): Damaged {
  const random = seeded(seed);
  const damaged: Damaged = {
    lines,
    believed: 0,
    invented: 0,
    fitting: 0,
    flipsBelieved: 0,
    flips: 0,
    newNames: new Set(),
  };
  for (let done = 0; done < lines; done += LINES_EACH)
    damageSome(make, print, Math.min(LINES_EACH, lines - done), random, damaged);
  return damaged;
}

function damageSome(
  make: (options: IntakeOptions) => AnyIntake,
  print: PrintCycle,
  lines: number,
  random: () => number,
  damaged: Damaged,
): void {
  const sent = follow(make(OPTIONS));
  const read = follow(make(OPTIONS));
  const waiting: Examined[] = [];
  const recent: Uint8Array[] = [];
  let i = 0;
  const both = () => {
    const bytes = print(i++);
    sent.push(bytes, i);
    read.push(bytes, i);
    return bytes;
  };
  const decide = ({ bytes, after, arrived, isFlip, readings }: Examined) => {
    const wrong = wrongValues(readings, sent.readings, damaged.newNames);
    if (wrong.length === 0) return;
    if (fitsByChance(bytes, after)) {
      damaged.fitting++;
      return;
    }
    damaged.believed++;
    if (isFlip) damaged.flipsBelieved++;
    const stated = numbersIn(arrived);
    if (wrong.some((value) => !stated.has(value))) damaged.invented++;
  };
  while (i < TEACH) both();
  for (let line = 0; line < lines; line++) {
    const bytes = print(i++);
    const { bytes: after, isFlip } = damage(bytes, random);
    if (isFlip) damaged.flips++;
    sent.push(bytes, i);
    read.readings.length = 0;
    read.push(after, i);
    recent.push(after);
    for (let k = 0; k < CLEAN_AFTER; k++) recent.push(both());
    recent.splice(0, Math.max(0, recent.length - CYCLES_OF_A_READING));
    waiting.push({ bytes, after, arrived: Buffer.concat(recent), isFlip, readings: [...read.readings] });
    // What a board sends one value at a time is a reading only some lines later.
    if (waiting.length > LINES_WAITING) decide(waiting.shift() as Examined);
    sent.readings.splice(0, Math.max(0, sent.readings.length - READINGS_KEPT));
  }
  for (const one of waiting) decide(one);
}

interface Examined {
  readonly bytes: Uint8Array;
  readonly after: Uint8Array;
  /** All that one reading may come from: a lost line end joins lines, and some boards send one value a line. */
  readonly arrived: Uint8Array;
  readonly isFlip: boolean;
  readonly readings: readonly Reading[];
}

function follow(intake: AnyIntake) {
  intake.opened();
  const readings: Reading[] = [];
  const sink: IntakeSink = { reading: (reading) => readings.push(reading), note: () => undefined };
  return { readings, push: (bytes: Uint8Array, i: number) => intake.push(bytes, START_MS + i * 100, sink) };
}

function wrongValues(readings: readonly Reading[], sent: readonly Reading[], newNames: Set<string>): number[] {
  return readings.flatMap(({ layout, values }) =>
    values.filter((value, column) => {
      if (Number.isNaN(value)) return false;
      const name = layout.signals[column]?.name ?? '';
      const known = sent.at(-1)?.layout.signals.findIndex((signal) => signal.name === name) ?? -1;
      if (known < 0) newNames.add(name);
      return known < 0 || !sent.some((one) => one.values[known] === value);
    }),
  );
}

/** All numbers that a reader could find in the text, cut at any point and decimal comma. */
function numbersIn(bytes: Uint8Array): ReadonlySet<number> {
  const text = Buffer.from(bytes).toString('latin1');
  const found = new Set<number>();
  for (const number of [/[-+]?(?:\d+\.?\d*|\.\d+)(?:e[-+]?\d+)?/gi, /[-+]?(?:\d+,?\d*|,\d+)(?:e[-+]?\d+)?/gi])
    for (const [one] of text.matchAll(number)) {
      found.add(Number(one.replace(',', '.')));
      found.add(Math.abs(Number(one.replace(',', '.'))));
    }
  return found;
}

/** The damaged line has a checksum, and it is right, so the damage cannot be detected. */
function fitsByChance(before: Uint8Array, after: Uint8Array): boolean {
  if (!/\*[\dA-F]{2}\s*$/.test(Buffer.from(before).toString('latin1'))) return false;
  const lines = Buffer.from(after).toString('latin1').split(/\r?\n/);
  return lines.some((line) => {
    const [, text = '', stated = ''] = /^[$!]?(.*)\*([\dA-Fa-f]{2})$/s.exec(line) ?? [];
    return (
      stated !== '' && Buffer.from(text, 'latin1').reduce((xor, byte) => xor ^ byte, 0) === Number.parseInt(stated, 16)
    );
  });
}

/** A flipped bit in half of the cases; else several, a lost, doubled, swapped or foreign byte, or a lost stretch. */
function damage(bytes: Uint8Array, random: () => number): { readonly bytes: Uint8Array; readonly isFlip: boolean } {
  const copy = [...bytes];
  const at = () => Math.floor(random() * copy.length);
  const flip = (place: number) => {
    copy[place] = (copy[place] ?? 0) ^ (1 << Math.floor(random() * 8));
  };
  const kind = Math.floor(random() * 12);
  if (kind < 6) flip(at());
  else if (kind === 6) for (let i = 0; i < 3; i++) flip(at());
  else if (kind === 7) copy.splice(at(), 1);
  else if (kind === 8) copy.splice(at(), 0, Math.floor(random() * 256));
  else if (kind === 9) copy.splice(at(), 1 + Math.floor(random() * 12));
  else if (kind === 10) {
    const place = at();
    copy.splice(place, 0, copy[place] ?? 0);
  } else {
    const place = at();
    const [byte] = copy.splice(place, 1);
    copy.splice(Math.max(0, place - 1), 0, byte ?? 0);
  }
  return { bytes: Uint8Array.from(copy), isFlip: kind < 6 };
}
