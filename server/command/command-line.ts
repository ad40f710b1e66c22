import { Problem } from '../problem/problem.ts';
import { VERSION } from '../version.ts';
import type { Environment, PrintRequest } from './arguments.ts';
import { type BackupRequest, readBackup } from './backup.ts';
import { type ImportRequest, readImport } from './import.ts';
import { readOldOption } from './old-options.ts';
import { type RestoreRequest, readRestore } from './restore.ts';
import { readWatch, WATCH_OPTIONS_HELP, type WatchRequest } from './watch.ts';

/** Run the simulator, which reads its own arguments. */
interface SimulateRequest {
  readonly kind: 'simulate';
  readonly args: readonly string[];
}

type Request = WatchRequest | ImportRequest | RestoreRequest | BackupRequest | SimulateRequest | PrintRequest;

export interface CommandLine {
  readonly request: Request;
  /** One line about a better way to ask for the same; null = none. */
  readonly advice: string | null;
}

interface Command {
  /** Its line in the overview. */
  readonly usage: string;
  readonly summary: string;
  read(args: readonly string[], env: Environment): Request;
}

const COMMANDS: Readonly<Record<string, Command>> = {
  watch: { usage: 'watch', summary: 'watch the line; also without a command', read: readWatch },
  import: { usage: 'import FILE', summary: 'make runs of a recorded log of reading lines', read: readImport },
  backup: { usage: 'backup [FOLDER]', summary: 'make a backup of the record', read: readBackup },
  restore: { usage: 'restore FILE', summary: 'put a backup in the place of the record', read: readRestore },
  simulate: {
    usage: 'simulate',
    summary: 'print the reading lines of a simulated line, or serve them',
    read: (args) => ({ kind: 'simulate', args }),
  },
};

const OVERVIEW = `Strandward watches a small filament extrusion line.

  strandward [COMMAND] [options]         from a copy of its sources: npm start -- [COMMAND] [options]

${Object.values(COMMANDS)
  .map(({ usage, summary }) => `  ${usage.padEnd(18)}  ${summary}`)
  .join('\n')}

  COMMAND --help      how to use a command
  --version           which version this is

Options of watch:

${WATCH_OPTIONS_HELP}`;

/**
 * Read what was asked for on the command line and in the environment.
 * @throws Problem `unknown-option`, `bad-setting`, `access-key-missing`
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
      `The commands are ${Object.keys(COMMANDS).join(', ')}. Run strandward --help to see what they do.`,
    );
  }
  return { request: command.read(others, env), advice: null };
}
