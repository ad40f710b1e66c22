import { Problem } from '../problem/problem.ts';
import { dataFolderOf, type Environment, onePath, type PrintRequest, readArguments } from './arguments.ts';

/** Import a recorded log as runs, then end. */
export interface ImportRequest {
  readonly kind: 'import';
  readonly dataFolder: string;
  readonly file: string;
  /** When it started, UTC ms; null = as stated in the file. */
  readonly startMs: number | null;
  /** Lines per second of a log without times; null = it has times. */
  readonly rateHz: number | null;
}

const HELP = `Imports a recorded log of reading lines as runs while Strandward is stopped. No one is notified.

  strandward import FILE [options]

  --started TIME      when the log started, such as 2026-11-24T20:15   (default: as stated in the file)
  --rate NUMBER       lines per second, if the log has no times
  --data FOLDER       folder of the record, or STRANDWARD_DATA         (default: .data)

While Strandward is running, import logs on its Runs page.`;

/** @throws Problem `unknown-option`, `bad-setting` */
export function readImport(args: readonly string[], env: Environment): ImportRequest | PrintRequest {
  const { options, positionals, help } = readArguments('import', args, ['data', 'started', 'rate']);
  if (help) return { kind: 'print', text: HELP };
  return {
    kind: 'import',
    dataFolder: dataFolderOf(options.data, env),
    file: onePath('import', positionals, 'file'),
    startMs: options.started === undefined ? null : timeOf(options.started),
    rateHz: options.rate === undefined ? null : rateOf(options.rate),
  };
}

function timeOf(text: string): number {
  const timeMs = /^\d{4}-\d\d-\d\d[T ]\d\d:\d\d/.test(text) ? Date.parse(text.replace(' ', 'T')) : Number.NaN;
  if (Number.isNaN(timeMs)) {
    throw new Problem(
      'bad-setting',
      `“${text}” is not a date and time.`,
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
      `“${text}” is not a valid rate.`,
      'Give --rate a number of lines per second from 0.1 to 1000.',
    );
  }
  return rateHz;
}
