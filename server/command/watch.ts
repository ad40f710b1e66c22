import { isIP } from 'node:net';
import { delimiter } from 'node:path';
import { Problem } from '../problem/problem.ts';
import { counted } from '../problem/sentence.ts';
import { LOG_LEVELS, type LogLevel, type StartupSettings } from '../settings/startup-settings.ts';
import {
  dataFolderOf,
  type Environment,
  type PrintRequest,
  readArguments,
  refuseSurplus,
  setting,
} from './arguments.ts';
import { httpsSettings } from './https-options.ts';

export interface WatchRequest {
  readonly kind: 'watch';
  readonly settings: StartupSettings;
  /** Whether a first start with the simulator adds example nights. */
  readonly examples: boolean;
}

export const WATCH_OPTIONS = [
  'source',
  'recordings',
  'data',
  'backup',
  'host',
  'port',
  'https',
  'https-ca-folder',
  'https-cert',
  'https-key',
  'trusted-proxy',
  'access-key',
  'examples',
  'log',
] as const;

export const WATCH_OPTIONS_HELP = `  --source ADDRESS    source of the reading lines (default: as on the Set-up page, else the simulator):
                        serial:/dev/serial/by-id/…?baud=115200
                        tcp:HOST:PORT
                        file:PATH?pace=1          (pace=max: as fast as possible; start=TIME, rate=NUMBER)
                        simulator:SCENARIO?seed=1&pace=1
  --recordings FOLDER folder whose recorded logs can be chosen as source on the page; several: separated as in PATH
  --data FOLDER       folder of the record                     (default: .data)
  --backup FOLDER     folder for automatic backups, preferably on another disk
  --host ADDRESS      address to listen on                     (default: 127.0.0.1, this machine only). Other devices
                      are paired first
  --port NUMBER       port to listen on; 0 = any free port     (default: 8750)
  --https own-ca      HTTPS with an authority of the house, created at the first start; its page /certificate says how to install
                      its certificate on each device. HTTP is then redirected to HTTPS on the same port
  --https-ca-folder FOLDER  folder of that authority, which several lines can share     (default: in the data folder)
  --https-cert FILE --https-key FILE
                      HTTPS with your own certificate (PEM), read again when the files change
  --trusted-proxy ADDRESSES  reverse proxies whose X-Forwarded-… headers are believed: addresses or networks, separated by commas
  --access-key KEY    a key that pairs any device and lets any program in, at least 12 characters; pairing replaces it.
                      Use the environment variable STRANDWARD_ACCESS_KEY instead: other users of the machine cannot see it
  --examples on|off   whether a first start with the simulator adds three example nights     (default: on)
  --log LEVEL         ${LOG_LEVELS.join(', ')}          (default: info)

Each option can also be set in the environment, such as STRANDWARD_SOURCE, STRANDWARD_ACCESS_KEY or STRANDWARD_HTTPS_CERT.
The command line takes precedence.
Strandward only watches. It is not a safety device.`;

const HELP = `Watches the line: stores every reading, raises alarms and serves the page. Press Ctrl-C to stop.

  strandward [watch] [options]

${WATCH_OPTIONS_HELP}`;

const ACCESS_KEY_LENGTH_MIN = 12;

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
      `The access key has only ${counted(accessKey.length, 'character')}.`,
      `Choose one with at least ${ACCESS_KEY_LENGTH_MIN} characters.`,
    );
  }
  const examples = value('examples') ?? 'on';
  if (examples !== 'on' && examples !== 'off')
    throw new Problem('bad-setting', `“${examples}” is neither on nor off.`, 'Give --examples on or off.');
  const dataFolder = dataFolderOf(options.data, env);
  return {
    kind: 'watch',
    examples: examples === 'on',
    settings: {
      host,
      port: portOf(value('port') ?? '8750'),
      https: httpsSettings(
        {
          https: value('https'),
          cert: value('https-cert'),
          key: value('https-key'),
          caFolder: value('https-ca-folder'),
        },
        dataFolder,
      ),
      trustedProxies: (value('trusted-proxy') ?? '')
        .split(',')
        .map((one) => one.trim())
        .filter((one) => one !== '')
        .map(proxyOf),
      dataFolder,
      backupFolder: value('backup'),
      source: value('source'),
      recordingFolders: (value('recordings') ?? '').split(delimiter).filter((folder) => folder !== ''),
      accessKey,
      logLevel: logLevelOf(value('log') ?? 'info'),
    },
  };
}

/** An address, or a network such as 172.18.0.0/16. */
function proxyOf(text: string): string {
  const [address = '', bits, ...more] = text.split('/');
  const family = isIP(address);
  const fits = bits === undefined || (/^\d{1,3}$/.test(bits) && Number(bits) <= (family === 6 ? 128 : 32));
  if (family === 0 || !fits || more.length > 0) {
    throw new Problem(
      'bad-setting',
      `“${text}” is not the address of a proxy.`,
      'Give --trusted-proxy IP addresses or networks such as 127.0.0.1 or 172.18.0.0/16.',
    );
  }
  return text;
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
