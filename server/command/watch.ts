import { delimiter } from 'node:path';
import { Problem } from '../problem/problem.ts';
import { LOG_LEVELS, type LogLevel, type StartupSettings } from '../settings/startup-settings.ts';
import {
  dataFolderOf,
  type Environment,
  type PrintRequest,
  readArguments,
  refuseSurplus,
  setting,
} from './arguments.ts';

export interface WatchRequest {
  readonly kind: 'watch';
  readonly settings: StartupSettings;
}

export const WATCH_OPTIONS = ['source', 'recordings', 'data', 'backup', 'host', 'port', 'access-key', 'log'] as const;

export const WATCH_OPTIONS_HELP = `  --source ADDRESS    source of the reading lines (default: as on the Set-up page, else the simulator):
                        serial:/dev/serial/by-id/…?baud=115200
                        tcp:HOST:PORT
                        file:PATH?pace=1          (pace=max: as fast as possible; start=TIME, rate=NUMBER)
                        simulator:SCENARIO?seed=1&pace=1
  --recordings FOLDER folder whose recorded logs can be chosen as source on the page; several: separated as in PATH
  --data FOLDER       folder of the record                     (default: .data)
  --backup FOLDER     folder for automatic backups, best on another disk
  --host ADDRESS      address to listen on                     (default: 127.0.0.1, this machine only). Other devices
                      are paired first
  --port NUMBER       port to listen on; 0 = any free port     (default: 8750)
  --access-key KEY    a key that pairs any device and lets any program in, at least 12 characters; pairing replaces it.
                      Better use the environment variable STRANDWARD_ACCESS_KEY, which other users of the machine cannot see
  --log LEVEL         ${LOG_LEVELS.join(', ')}          (default: info)

Each option can also be set in the environment: STRANDWARD_SOURCE, STRANDWARD_RECORDINGS, STRANDWARD_DATA, STRANDWARD_BACKUP,
STRANDWARD_HOST, STRANDWARD_PORT, STRANDWARD_ACCESS_KEY, STRANDWARD_LOG. The command line takes precedence.
Strandward only watches. It is not a safety device.`;

const HELP = `Watches the line: stores every reading, raises alarms and serves the page. Press Ctrl-C to stop.

  strandward [watch] [options]

${WATCH_OPTIONS_HELP}`;

const ACCESS_KEY_LENGTH_MIN = 12;
/** `aaaaaaaaaaaa` and `abababababab` are long, but among the first that someone tries. */
const ACCESS_KEY_CHARACTERS_MIN = 5;

/** @throws Problem `unknown-option`, `bad-setting` */
export function readWatch(args: readonly string[], env: Environment): WatchRequest | PrintRequest {
  const { options, positionals, help } = readArguments('watch', args, WATCH_OPTIONS);
  if (help) return { kind: 'print', text: HELP };
  refuseSurplus('watch', positionals);
  const value = (name: (typeof WATCH_OPTIONS)[number]) => setting(name, options[name], env);
  const host = value('host') ?? '127.0.0.1';
  const accessKey = value('access-key');
  if (accessKey !== null && accessKey.length < ACCESS_KEY_LENGTH_MIN) {
    throw new Problem(
      'bad-setting',
      `The access key has only ${accessKey.length} characters.`,
      `Choose one with at least ${ACCESS_KEY_LENGTH_MIN} characters.`,
    );
  }
  if (accessKey !== null && new Set(accessKey).size < ACCESS_KEY_CHARACTERS_MIN) {
    throw new Problem(
      'bad-setting',
      'The access key repeats the same few characters, so it is easily guessed.',
      `Choose one with at least ${ACCESS_KEY_CHARACTERS_MIN} different characters, best a random one.`,
    );
  }
  return {
    kind: 'watch',
    settings: {
      host,
      port: portOf(value('port') ?? '8750'),
      dataFolder: dataFolderOf(options.data, env),
      backupFolder: value('backup'),
      source: value('source'),
      recordingFolders: (value('recordings') ?? '').split(delimiter).filter((folder) => folder !== ''),
      accessKey,
      logLevel: logLevelOf(value('log') ?? 'info'),
    },
  };
}

function portOf(text: string): number {
  const port = /^\d{1,5}$/.test(text) ? Number(text) : Number.NaN;
  if (!(port <= 65_535)) {
    throw new Problem('bad-setting', `“${text}” is not a port number.`, 'Give --port a whole number from 0 to 65535.');
  }
  return port;
}

function logLevelOf(text: string): LogLevel {
  const level = LOG_LEVELS.find((known) => known === text);
  if (level === undefined) {
    throw new Problem('bad-setting', `“${text}” is not a log level.`, `Give --log one of ${LOG_LEVELS.join(', ')}.`);
  }
  return level;
}
