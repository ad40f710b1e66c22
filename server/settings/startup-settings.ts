import { parseArgs } from 'node:util';
import { messageOf, Problem } from '../problem/problem.ts';

/** What is set when the service starts. Everything about the line itself is in `LineSettings`. */
export interface StartupSettings {
  readonly host: string;
  readonly port: number;
  /** Folder of the database; made if it is missing. */
  readonly dataFolder: string;
  /** Where backups are made by themselves; null = only when asked, beside the database. */
  readonly backupFolder: string | null;
  /** Address of the source; null = what the set-up page says. */
  readonly source: string | null;
  /** Needed to listen beyond loopback; null = none. */
  readonly accessKey: string | null;
  readonly logLevel: LogLevel;
}

const LOG_LEVELS = ['debug', 'info', 'warn', 'error', 'silent'] as const;
export type LogLevel = (typeof LOG_LEVELS)[number];

export type StartupRequest =
  | { readonly kind: 'start'; readonly settings: StartupSettings }
  /** Put a backup in the place of the database, then end. */
  | { readonly kind: 'restore'; readonly dataFolder: string; readonly backup: string }
  /** Make runs of a recorded log, then end. */
  | {
      readonly kind: 'takeIn';
      readonly dataFolder: string;
      readonly file: string;
      /** When it began, UTC ms; null = as the file tells. */
      readonly startMs: number | null;
      /** Lines a second, where they tell nothing of time; null = they do. */
      readonly rateHz: number | null;
    }
  | { readonly kind: 'help'; readonly text: string };

const OPTIONS = {
  host: { type: 'string' },
  port: { type: 'string' },
  data: { type: 'string' },
  backup: { type: 'string' },
  restore: { type: 'string' },
  'take-in': { type: 'string' },
  started: { type: 'string' },
  rate: { type: 'string' },
  source: { type: 'string' },
  'access-key': { type: 'string' },
  log: { type: 'string' },
  help: { type: 'boolean', short: 'h' },
} as const;

const HELP = `Strandward watches a small filament extrusion line.

  npm start -- [options]                 or: node .build/server/main.js [options]

  --source ADDRESS    where reading lines come from (else what the set-up page says, else the simulator):
                        serial:/dev/serial/by-id/…?baud=115200
                        tcp:HOST:PORT
                        file:PATH?pace=1          (pace=max: as fast as possible; start=TIME, rate=NUMBER)
                        simulator:SCENARIO?seed=1&pace=1
  --data FOLDER       where the record is kept                 (default .data)
  --backup FOLDER     where backups of it are made by themselves; best on another disk
  --restore FILE      put a backup in the place of the record, keep the old one beside it, and end
  --take-in FILE      make runs of a recorded log of reading lines, calling nobody, and end
    --started TIME      when it began, such as 2026-11-24T20:15   (default: as the file tells)
    --rate NUMBER       lines a second, where they have no clock
  --host ADDRESS      where to listen                          (default 127.0.0.1: this machine only)
  --port NUMBER       0 = any free one                         (default 8750)
  --access-key KEY    at least 12 characters; needed to listen beyond this machine. Better in the environment
                      variable STRANDWARD_ACCESS_KEY, where other users of the machine cannot see it
  --log LEVEL         ${LOG_LEVELS.join(', ')}          (default info)
  --help

Each option may also be set in the environment: STRANDWARD_SOURCE, STRANDWARD_DATA, STRANDWARD_BACKUP, STRANDWARD_HOST, STRANDWARD_PORT,
STRANDWARD_ACCESS_KEY, STRANDWARD_LOG. An option on the command line wins.
Strandward only watches: it is no safety device.`;

const ACCESS_KEY_LENGTH_MIN = 12;

/** Whether only this machine can reach an address. */
export function isLoopback(host: string): boolean {
  return host === 'localhost' || host === '::1' || /^127(\.\d{1,3}){3}$/.test(host);
}

/**
 * Read what was asked on the command line and in the environment.
 * @throws Problem `unknown-option`, `bad-setting`, `access-key-missing`
 */
export function readStartup(
  args: readonly string[],
  env: Readonly<Record<string, string | undefined>>,
): StartupRequest {
  const values = parse(args);
  if (values.help === true) return { kind: 'help', text: HELP };
  const given = (
    option: Exclude<keyof typeof OPTIONS, 'help' | 'restore' | 'take-in' | 'started' | 'rate'>,
  ): string | null => {
    const name = `STRANDWARD_${option.replace('-', '_').toUpperCase()}`;
    const value = values[option] ?? env[name];
    return value === undefined || value === '' ? null : value;
  };
  const dataFolder = given('data') ?? '.data';
  if (values.restore !== undefined) return { kind: 'restore', dataFolder, backup: values.restore };
  if (values['take-in'] !== undefined) {
    const startMs = values.started === undefined ? null : timeOf(values.started);
    const rateHz = values.rate === undefined ? null : rateOf(values.rate);
    return { kind: 'takeIn', dataFolder, file: values['take-in'], startMs, rateHz };
  }
  const host = given('host') ?? '127.0.0.1';
  const accessKey = given('access-key');
  if (accessKey !== null && accessKey.length < ACCESS_KEY_LENGTH_MIN) {
    throw new Problem(
      'bad-setting',
      `The access key has ${accessKey.length} characters.`,
      `Choose one of at least ${ACCESS_KEY_LENGTH_MIN} characters.`,
    );
  }
  if (!isLoopback(host) && accessKey === null) {
    throw new Problem(
      'access-key-missing',
      `Strandward will not listen on ${host} without an access key: everybody on the network could change the record.`,
      'Set STRANDWARD_ACCESS_KEY to at least 12 characters, or leave out --host to listen on this machine only.',
    );
  }
  return {
    kind: 'start',
    settings: {
      host,
      port: portOf(given('port') ?? '8750'),
      dataFolder,
      backupFolder: given('backup'),
      source: given('source'),
      accessKey,
      logLevel: logLevelOf(given('log') ?? 'info'),
    },
  };
}

function parse(args: readonly string[]) {
  try {
    return parseArgs({
      args: [...args],
      options: OPTIONS,
      strict: true,
      allowPositionals: false,
    }).values;
  } catch (thrown) {
    // Node's own sentence names the option but adds advice about "--" that helps nobody here.
    const sentence = messageOf(thrown).split(/\.\s/)[0] ?? '';
    throw new Problem('unknown-option', `${sentence.replace(/\.$/, '')}.`, 'Run it with --help to see every option.');
  }
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

function portOf(text: string): number {
  const port = /^\d{1,5}$/.test(text) ? Number(text) : Number.NaN;
  if (!(port <= 65_535)) {
    throw new Problem('bad-setting', `“${text}” is no port number.`, 'Give --port a whole number from 0 to 65535.');
  }
  return port;
}

function logLevelOf(text: string): LogLevel {
  const level = LOG_LEVELS.find((known) => known === text);
  if (level === undefined) {
    throw new Problem('bad-setting', `“${text}” is no log level.`, `Give --log one of ${LOG_LEVELS.join(', ')}.`);
  }
  return level;
}
