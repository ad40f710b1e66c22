import { Problem } from '../problem/problem.ts';
import { dataFolderOf, type Environment, oneFile, type PrintRequest, readArguments } from './arguments.ts';

/** Make runs of a recorded log, then end. */
export interface ImportRequest {
  readonly kind: 'import';
  readonly dataFolder: string;
  readonly file: string;
  /** When it began, UTC ms; null = as the file tells. */
  readonly startMs: number | null;
  /** Lines a second, where they tell nothing of time; null = they do. */
  readonly rateHz: number | null;
}

const HELP = `Makes runs of a recorded log of reading lines, while Strandward is stopped. Nobody is notified.

  strandward import FILE [options]

  --started TIME      when it began, such as 2026-11-24T20:15   (default: as the file tells)
  --rate NUMBER       lines a second, where they have no clock
  --data FOLDER       where the record is kept, also STRANDWARD_DATA   (default .data)

While Strandward is running, import the log on its page: Runs.`;

/** @throws Problem `unknown-option`, `bad-setting` */
export function readImport(args: readonly string[], env: Environment): ImportRequest | PrintRequest {
  const { options, positionals, help } = readArguments('import', args, ['data', 'started', 'rate']);
  if (help) return { kind: 'print', text: HELP };
  return {
    kind: 'import',
    dataFolder: dataFolderOf(options.data, env),
    file: oneFile('import', positionals),
    startMs: options.started === undefined ? null : timeOf(options.started),
    rateHz: options.rate === undefined ? null : rateOf(options.rate),
  };
}

function timeOf(text: string): number {
  const timeMs = /^\d{4}-\d\d-\d\d[T ]\d\d:\d\d/.test(text) ? Date.parse(text.replace(' ', 'T')) : Number.NaN;
  if (Number.isNaN(timeMs)) {
    throw new Problem(
      'bad-setting',
      `“${text}” is no date and time.`,
      'Give --started a date and time such as 2026-11-24T20:15.',
    );
  }
  return timeMs;
}

function rateOf(text: string): number {
  const rateHz = /^\d+(\.\d+)?$/.test(text) ? Number(text) : Number.NaN;
  if (!(rateHz >= 0.1 && rateHz <= 1000)) {
    throw new Problem(
      'bad-setting',
      `“${text}” is no rate.`,
      'Give --rate a number of lines a second from 0.1 to 1000.',
    );
  }
  return rateHz;
}
