import { parseArgs } from 'node:util';
import { messageOf, Problem } from '../problem/problem.ts';

export type Environment = Readonly<Record<string, string | undefined>>;

/** Text to print, then the program ends. */
export interface PrintRequest {
  readonly kind: 'print';
  readonly text: string;
}

export interface Arguments<Name extends string> {
  readonly options: Readonly<Partial<Record<Name, string>>>;
  readonly positionals: readonly string[];
  readonly help: boolean;
}

/**
 * Read the arguments of one command: options with a value, `--help`, and words without an option.
 * @throws Problem `unknown-option`
 */
export function readArguments<Name extends string>(
  command: string,
  args: readonly string[],
  names: readonly Name[],
): Arguments<Name> {
  const known = Object.fromEntries(names.map((name) => [name, { type: 'string' as const }]));
  try {
    const { values, positionals } = parseArgs({
      args: [...args],
      options: { ...known, help: { type: 'boolean', short: 'h' } },
      strict: true,
      allowPositionals: true,
    });
    const { help = false, ...options } = values;
    return { options: options as Arguments<Name>['options'], positionals, help: help === true };
  } catch (thrown) {
    // Node's own sentence names the option but adds advice about "--" that helps nobody here.
    const sentence = messageOf(thrown).split(/\.\s/)[0] ?? '';
    throw wrongUse(command, `${sentence.replace(/\.$/, '')}.`);
  }
}

/** Refuse words that the command has no use for. */
export function refuseSurplus(command: string, surplus: readonly string[]): void {
  if (surplus[0] !== undefined) throw wrongUse(command, `Unexpected argument '${surplus[0]}'.`);
}

/**
 * The one file that a command works on.
 * @throws Problem `unknown-option` where there is none, or more than one
 */
export function oneFile(command: string, positionals: readonly string[]): string {
  const [file, ...surplus] = positionals;
  if (file === undefined || file === '') throw wrongUse(command, `The command ${command} needs the path of a file.`);
  refuseSurplus(command, surplus);
  return file;
}

/** A setting from the command line, else from the environment; null = neither. An empty one counts as not given. */
export function setting(name: string, option: string | undefined, env: Environment): string | null {
  const value = option ?? env[`STRANDWARD_${name.replaceAll('-', '_').toUpperCase()}`];
  return value === undefined || value === '' ? null : value;
}

/** Where the record is. Every command that works on it finds it in the same way. */
export function dataFolderOf(option: string | undefined, env: Environment): string {
  return setting('data', option, env) ?? '.data';
}

function wrongUse(command: string, message: string): Problem {
  return new Problem('unknown-option', message, `Run it with --help to see how: strandward ${command} --help`);
}
