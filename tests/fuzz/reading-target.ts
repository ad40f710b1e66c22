import { propose } from '../../server/proposal/propose.ts';
import { ReadingIntake } from '../../server/reading/intake.ts';
import type { IntakeOptions } from '../../server/reading/intake-options.ts';
import { ROLES } from '../../server/reading/names.ts';
import type { Reading } from '../../server/reading/reading.ts';
import { SHAPES } from '../../server/reading/shape.ts';
import { START_MS } from '../reading/intake-bench.ts';
import type { Chooser } from './chooser.ts';
import type { FuzzTarget } from './fuzz.ts';
import { anyName, mutated } from './line-mutation.ts';
import { printedLines } from './printed-lines.ts';

interface ReadingInput {
  readonly options: Omit<IntakeOptions, 'recordedStartMs' | 'learnt'>;
  /** Bytes in latin1, and when they arrived after the start, ms; null = recorded. */
  readonly chunks: readonly (readonly [string, number | null])[];
}

const LINES_MAX = 200;
const SIGNALS_MAX = 128;
/** As long as a test of a board may have run. */
const RECORDED_YEARS_MS = 100 * 365 * 86_400_000;

/** Bytes → readings, in every shape and setting, and what the fields are proposed to mean. */
export const readingTarget: FuzzTarget<ReadingInput> = {
  name: 'reading',
  unit: 'lines',
  casesInTest: 30,
  open: async () => {
    const boards = printedLines();
    return {
      make: (choose) => makeInput(choose, boards),
      attempt: async (input) => read(input),
      close: async () => {},
    };
  },
};

function makeInput(choose: Chooser, boards: readonly (readonly string[])[]): ReadingInput {
  let board = choose.oneOf(boards);
  const share = choose.oneOf([0.05, 0.3, 1]);
  const lineEnd = choose.oneOf(['\n', '\n', '\r\n', '\r']);
  let text = '';
  const from = choose.below(board.length);
  const count = 20 + choose.below(LINES_MAX);
  for (let i = 0; i < count; i++) {
    // A new sketch is loaded.
    if (choose.chance(0.005)) board = choose.oneOf(boards);
    const line = board[(from + i) % board.length] ?? '';
    text += choose.chance(share) ? mutated(line, choose, choose.oneOf(choose.oneOf(boards))) : line;
    if (!choose.chance(0.01)) text += lineEnd;
  }
  return { options: makeOptions(choose), chunks: chunksOf(text, choose) };
}

function makeOptions(choose: Chooser): ReadingInput['options'] {
  const names = () => Array.from({ length: choose.below(8) }, () => anyName(choose));
  const roles = [...new Set(names())].map((name) => ({
    name,
    role: choose.oneOf(ROLES),
    factor: choose.oneOf([1, -1, 0.1, 25.4, 1e9]),
    offset: choose.oneOf([0, 0, -32, 1e9]),
  }));
  return {
    shape: choose.oneOf(['auto', 'auto', ...SHAPES]),
    checksum: choose.oneOf(['auto', 'auto', 'auto', 'required']),
    columnNames: choose.chance(0.3) ? names() : [],
    roles: choose.chance(0.3) ? roles : [],
    ...(choose.chance(0.1) ? { recordedRateHz: choose.oneOf([0.001, 50, 1e6]) } : {}),
    ...(choose.chance(0.1) ? { notBeforeMs: START_MS - choose.below(1e9) } : {}),
  };
}

function chunksOf(text: string, choose: Chooser): ReadingInput['chunks'] {
  const longest = choose.oneOf([7, 64, 1000, 100_000]);
  const live = choose.chance(0.7);
  const chunks: [string, number | null][] = [];
  let atMs = 0;
  for (let at = 0; at < text.length; ) {
    const size = 1 + choose.below(longest);
    // At times everything stood still, for up to a day.
    atMs += choose.chance(0.01) ? choose.between(0, 8.64e7) : choose.between(0, 60);
    chunks.push([text.slice(at, at + size), live ? atMs : null]);
    at += size;
  }
  return chunks;
}

function read({ options, chunks }: ReadingInput): number {
  const intake = new ReadingIntake({ ...options, recordedStartMs: START_MS });
  intake.opened();
  let readings = 0;
  let beforeMs = Number.NEGATIVE_INFINITY;
  let latestMs = START_MS;
  const sink = {
    reading: (reading: Reading) => {
      readings++;
      checkReading(reading, beforeMs, latestMs);
      beforeMs = reading.timeMs;
    },
    note: (_text: string, timeMs: number) => {
      if (!Number.isFinite(timeMs)) throw new Error(`A note is dated ${timeMs}.`);
    },
  };
  for (const [text, afterMs] of chunks) {
    const arrivalMs = afterMs === null ? null : START_MS + afterMs;
    latestMs = arrivalMs ?? Number.NaN;
    intake.push(Buffer.from(text, 'latin1'), arrivalMs, sink);
  }
  const counters = intake.counters();
  const dropped = Object.values(counters.dropped).reduce((sum, count) => sum + count, 0);
  if (counters.readings !== readings)
    throw new Error(`${counters.readings} readings are counted, and ${readings} came.`);
  if (dropped + counters.notes > counters.received)
    throw new Error(`More lines were dropped than received: ${dropped}.`);
  if (intake.layout.signals.length > SIGNALS_MAX) throw new Error(`There are ${intake.layout.signals.length} signals.`);
  const names = intake.layout.signals.map(({ name }) => name);
  if (new Set(names).size !== names.length) throw new Error(`Two signals have the same name: ${names.join(', ')}`);
  const proposed = propose(intake.seenFields(), 1.75).map(({ role }) => role);
  if (new Set(proposed).size !== proposed.length) throw new Error(`A role is proposed twice: ${proposed.join(', ')}`);
  void [intake.lastLine, intake.learnt, intake.droppedLines, intake.shape];
  return counters.received;
}

function checkReading({ timeMs, layout, values, lostBefore }: Reading, beforeMs: number, latestMs: number): void {
  if (!(timeMs > beforeMs)) throw new Error(`A reading of ${timeMs} follows one of ${beforeMs}.`);
  // NaN = recorded: nothing but the device's clock dates it.
  if (timeMs > latestMs + 60_000) throw new Error(`A reading is dated ${timeMs - latestMs} ms after it arrived.`);
  if (timeMs > START_MS + RECORDED_YEARS_MS) throw new Error(`A reading is dated ${timeMs}.`);
  if (values.length > layout.signals.length)
    throw new Error(`${values.length} values of ${layout.signals.length} signals.`);
  const infinite = values.find((value) => value === Infinity || value === -Infinity || Math.abs(value) > 1e300);
  if (infinite !== undefined) throw new Error(`A value is ${infinite}.`);
  if (!(lostBefore >= 0 && lostBefore < 1e9)) throw new Error(`${lostBefore} lines are said to be lost.`);
}
