import { Problem } from '../problem/problem.ts';
import { VERSION } from '../version.ts';
import type { Environment, PrintRequest } from './arguments.ts';
import { type BackupRequest, readBackup } from './backup.ts';
import { type CollectRequest, readCollect } from './collect.ts';
import { type DoctorRequest, readDoctor } from './doctor.ts';
import { type ImportRequest, readImport } from './import.ts';
import { type InstallServiceRequest, readInstallService } from './install-service.ts';
import { readOldOption } from './old-options.ts';
import { type PairRequest, readPair } from './pair.ts';
import { type RestoreRequest, readRestore } from './restore.ts';
import { readWatch, WATCH_OPTIONS_HELP, type WatchRequest } from './watch.ts';

/** Run the simulator, which parses its own arguments. */
interface SimulateRequest {
  readonly kind: 'simulate';
  readonly args: readonly string[];
}

type Request =
  | WatchRequest
  | PairRequest
  | ImportRequest
  | RestoreRequest
  | BackupRequest
  | CollectRequest
  | DoctorRequest
  | InstallServiceRequest
  | SimulateRequest
  | PrintRequest;

export interface CommandLine {
  readonly request: Request;
  /** A line about the current form of an old option; null = none. */
  readonly advice: string | null;
}

interface Command {
  /** Its form in the overview. */
  readonly usage: string;
  readonly summary: string;
  read(args: readonly string[], env: Environment): Request;
}

const COMMANDS: Readonly<Record<string, Command>> = {
  watch: { usage: 'watch', summary: 'watch the line (the default)', read: readWatch },
  pair: { usage: 'pair', summary: 'show a link that pairs another device', read: readPair },
  import: { usage: 'import FILE', summary: 'import a recorded log of reading lines as runs', read: readImport },
  backup: { usage: 'backup [FOLDER]', summary: 'make a backup of the record', read: readBackup },
  restore: { usage: 'restore FILE', summary: 'replace the record with a backup', read: readRestore },
  collect: { usage: 'collect FOLDER', summary: 'bring a collection of finished runs up to date', read: readCollect },
  doctor: { usage: 'doctor', summary: 'print what someone needs to know to help you', read: readDoctor },
  'install-service': {
    usage: 'install-service',
    summary: 'write a systemd unit that runs Strandward as a service',
    read: (args) => readInstallService(args),
  },
  simulate: {
    usage: 'simulate',
    summary: 'print or serve the reading lines of a simulated line',
    read: (args) => ({ kind: 'simulate', args }),
  },
};

const OVERVIEW = `Strandward watches a small filament extrusion line.

  strandward [COMMAND] [options]         (in a source folder: npm start -- [COMMAND] [options])

${Object.values(COMMANDS)
  .map(({ usage, summary }) => `  ${usage.padEnd(18)}  ${summary}`)
  .join('\n')}

  COMMAND --help      show how to use a command
  --version           show the version

Options of watch:

${WATCH_OPTIONS_HELP}`;

/**
 * Reads the request from the command line and the environment.
 * @throws Problem `unknown-option`, `bad-setting`
 */
export function readCommandLine(args: readonly string[], env: Environment): CommandLine {
  const [first = '', ...others] = args;
  if (first === '--version') return { request: { kind: 'print', text: VERSION }, advice: null };
  if (first === '--help' || first === '-h') return { request: { kind: 'print', text: OVERVIEW }, advice: null };
  if (first === '' || first.startsWith('-')) {
    return readOldOption(args, env) ?? { request: readWatch(args, env), advice: null };
  }
  const command = Object.hasOwn(COMMANDS, first) ? COMMANDS[first] : undefined;
  if (command === undefined) {
    throw new Problem(
      'unknown-option',
      `There is no command “${first}”.`,
      `Use one of ${Object.keys(COMMANDS).join(', ')}. For help, run: strandward --help`,
    );
  }
  return { request: command.read(others, env), advice: null };
}
