import { existsSync, mkdirSync, readFileSync, realpathSync, writeFileSync } from 'node:fs';
import { resolve } from 'node:path';
import { messageOf, Problem } from '../problem/problem.ts';
import { type PrintRequest, readArguments, refuseSurplus, variableOf } from './arguments.ts';
import { type LineFile, lineFile, startLine } from './line-file.ts';
import { lineDataFolder, SERVICE_DATA_FOLDER, serviceUnit } from './service-unit.ts';
import { readWatch } from './watch.ts';

/** Write a systemd unit, say what to type next, then end. */
export interface InstallServiceRequest {
  readonly kind: 'installService';
  readonly unit: string;
  readonly file: string;
  /** One of several lines, which is started; null = the only one. */
  readonly line: LineFile | null;
}

const UNIT_FILE = '/etc/systemd/system/strandward.service';
const TEMPLATE_FILE = '/etc/systemd/system/strandward@.service';
const LINE_FOLDER = '/etc/strandward';
/** Options of watch that the service is to be started with. No access key: any user of the machine can read a unit. */
const WATCH_OPTIONS = [
  'source',
  'recordings',
  'backup',
  'host',
  'port',
  'https',
  'https-cert',
  'https-key',
  'trusted-proxy',
  'log',
] as const;

const HELP = `Writes a systemd unit, so that Strandward runs as a service from every start of the machine. It starts nothing,
except with --line.

  strandward install-service [options]

  --print             print the unit instead of writing it
  --file PATH         file to write   (default: ${UNIT_FILE})
  --line NAME         add one of several lines and start it: writes its settings to FOLDER/NAME.env, and once for all lines
                      the unit ${TEMPLATE_FILE}
  --folder FOLDER     folder with the settings of all lines     (default: ${LINE_FOLDER})

A line that is added gets the next free port, unless --port is given. Its record is in ${lineDataFolder('NAME')}.

The service's record is in ${SERVICE_DATA_FOLDER}. These options of watch are written into the unit:
${WATCH_OPTIONS.map((name) => `--${name}`)
  .join(', ')
  .replace(/(.{90}\S*) /, '$1\n')}.
For backups outside that folder, and for certificate files, create the user first (useradd --system strandward), and
let it write to the folder and read the files.`;

/** @throws Problem `unknown-option`, `bad-setting` */
export function readInstallService(
  args: readonly string[],
  program: readonly string[] = thisProgram(),
): InstallServiceRequest | PrintRequest {
  const { options, positionals, flags, help } = readArguments(
    'install-service',
    args,
    [...WATCH_OPTIONS, 'file', 'line', 'folder'],
    ['print'],
  );
  if (help) return { kind: 'print', text: HELP };
  refuseSurplus('install-service', positionals);
  const environment: Record<string, string> = {};
  for (const name of WATCH_OPTIONS) {
    const value = options[name];
    if (value === undefined) continue;
    // A line break would be another line of the unit.
    if (/\p{Cc}/u.test(value))
      throw new Problem('bad-setting', `The value of --${name} contains a control character.`, 'Remove it.');
    environment[variableOf(name)] = value;
  }
  const watch = readWatch([], environment);
  const settings = watch.kind === 'watch' ? watch.settings : null;
  const backupFolder = settings?.backupFolder ?? null;
  const folders = [...(backupFolder === null ? [] : [backupFolder]), ...(settings?.recordingFolders ?? [])];
  const https = settings?.https ?? null;
  const certificateFiles = https?.kind === 'files' ? [https.certFile, https.keyFile] : [];
  for (const folder of [...folders, ...certificateFiles]) {
    if (resolve(folder) === folder) continue;
    throw new Problem('bad-setting', `A service needs the full path of “${folder}”.`, `Give ${resolve(folder)}.`);
  }
  const command = [...program, 'watch'];
  if (options.line === undefined) {
    const readFolders = [...(settings?.recordingFolders ?? []), ...certificateFiles];
    const unit = serviceUnit({ command, environment, backupFolder, readFolders });
    if (flags.has('print')) return { kind: 'print', text: unit.trimEnd() };
    return { kind: 'installService', unit, file: options.file ?? UNIT_FILE, line: null };
  }
  if (folders.length > 0) {
    throw new Problem(
      'bad-setting',
      'All lines share one unit, which gives them no folders.',
      `Leave --backup and --recordings out. Add them afterwards with: systemctl edit strandward@${options.line}`,
    );
  }
  const line = lineFile(options.line, resolve(options.folder ?? LINE_FOLDER), environment);
  const unit = serviceUnit({ command, environment: {}, backupFolder, readFolders: [], lineFolder: line.folder });
  if (flags.has('print')) return { kind: 'print', text: `${unit}\n# ${line.path}\n${line.text.trimEnd()}` };
  return { kind: 'installService', unit, file: options.file ?? TEMPLATE_FILE, line };
}

/** @returns what to tell the user. @throws Problem `bad-setting`: the file cannot be written, or is another unit */
export function writeUnit({ unit, file, line }: InstallServiceRequest): string {
  const isThere = existsSync(file);
  if (isThere && readFileSync(file, 'utf8') !== unit) {
    throw new Problem(
      'bad-setting',
      `There is already another unit in ${file}.`,
      'Compare it with the output of --print, then delete it and run this again.',
    );
  }
  try {
    if (!isThere) writeFileSync(file, unit, { mode: 0o644, flag: 'wx' });
    if (line !== null) {
      mkdirSync(line.folder, { recursive: true });
      writeFileSync(line.path, line.text, { mode: 0o644, flag: 'wx' });
    }
  } catch (thrown) {
    throw new Problem(
      'bad-setting',
      `Cannot write the unit: ${messageOf(thrown)}.`,
      'Run this as root, for example with sudo, or save the output of --print yourself.',
      { cause: thrown },
    );
  }
  if (line !== null) return startLine(line);
  return `${isThere ? 'This unit is in place already' : 'Wrote the unit'}: ${file}

Nothing has been started. As root, type:

  systemctl daemon-reload
  systemctl enable --now strandward
  strandward pair --data ${SERVICE_DATA_FOLDER}      (shows a link that pairs a phone)
  journalctl -u strandward -f                        (shows the log)

If Strandward is watching a line in a terminal, stop it first: only one program can read a port.`;
}

/** How Node runs this program now. */
function thisProgram(): readonly string[] {
  return [realpathSync(process.execPath), ...process.execArgv, realpathSync(process.argv[1] ?? '')];
}
