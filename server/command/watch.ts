import { Problem } from '../problem/problem.ts';
import { isLoopback, LOG_LEVELS, type LogLevel, type StartupSettings } from '../settings/startup-settings.ts';
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

export const WATCH_OPTIONS = ['source', 'data', 'backup', 'host', 'port', 'access-key', 'log'] as const;

export const WATCH_OPTIONS_HELP = `  --source ADDRESS    where reading lines come from (else what the set-up page says, else the simulator):
                        serial:/dev/serial/by-id/…?baud=115200
                        tcp:HOST:PORT
                        file:PATH?pace=1          (pace=max: as fast as possible; start=TIME, rate=NUMBER)
                        simulator:SCENARIO?seed=1&pace=1
  --data FOLDER       where the record is kept                 (default .data)
  --backup FOLDER     where backups are made automatically; best on another disk
  --host ADDRESS      where to listen                          (default 127.0.0.1: this machine only)
  --port NUMBER       0 = any free one                         (default 8750)
  --access-key KEY    at least 12 characters; needed to listen beyond this machine. Better in the environment
                      variable STRANDWARD_ACCESS_KEY, where other users of the machine cannot see it
  --log LEVEL         ${LOG_LEVELS.join(', ')}          (default info)

Each option may also be set in the environment: STRANDWARD_SOURCE, STRANDWARD_DATA, STRANDWARD_BACKUP, STRANDWARD_HOST,
STRANDWARD_PORT, STRANDWARD_ACCESS_KEY, STRANDWARD_LOG. An option on the command line wins.
Strandward only watches: it is no safety device.`;

const HELP = `Watches the line: stores every reading, raises alarms and serves the page. Ctrl-C ends it.

  strandward [watch] [options]

${WATCH_OPTIONS_HELP}`;

const ACCESS_KEY_LENGTH_MIN = 12;

/** @throws Problem `unknown-option`, `bad-setting`, `access-key-missing` */
export function readWatch(args: readonly string[], env: Environment): WatchRequest | PrintRequest {
  const { options, positionals, help } = readArguments('watch', args, WATCH_OPTIONS);
  if (help) return { kind: 'print', text: HELP };
  refuseSurplus('watch', positionals);
  const given = (name: (typeof WATCH_OPTIONS)[number]) => setting(name, options[name], env);
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
    kind: 'watch',
    settings: {
      host,
      port: portOf(given('port') ?? '8750'),
      dataFolder: dataFolderOf(options.data, env),
      backupFolder: given('backup'),
      source: given('source'),
      accessKey,
      logLevel: logLevelOf(given('log') ?? 'info'),
    },
  };
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
