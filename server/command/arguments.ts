import { parseArgs } from 'node:util';
import { messageOf, Problem } from '../problem/problem.ts';

export type Environment = Readonly<Record<string, string | undefined>>;

/** Print a text, then end. */
export interface PrintRequest {
  readonly kind: 'print';
  readonly text: string;
}

export interface Arguments<Name extends string> {
  readonly options: Readonly<Partial<Record<Name, string>>>;
  readonly positionals: readonly string[];
  /** Options without a value that were given. */
  readonly flags: ReadonlySet<string>;
  readonly help: boolean;
}

/**
 * Reads the arguments of one command: options with a value, options without, `--help`, and positional arguments.
 * @throws Problem `unknown-option`
 */
export function readArguments<Name extends string>(
  command: string,
  args: readonly string[],
  names: readonly Name[],
  flags: readonly string[] = [],
): Arguments<Name> {
  const known = Object.fromEntries(names.map((name) => [name, { type: 'string' as const }]));
  const switches = Object.fromEntries(flags.map((name) => [name, { type: 'boolean' as const }]));
  try {
    const { values, positionals } = parseArgs({
      args: [...args],
      options: { ...known, ...switches, help: { type: 'boolean', short: 'h' } },
      strict: true,
      allowPositionals: true,
    });
    const { help = false, ...options } = values;
    return {
      options: options as Arguments<Name>['options'],
      positionals,
      flags: new Set(flags.filter((name) => (values as Record<string, unknown>)[name] === true)),
      help: help === true,
    };
  } catch (thrown) {
    throw wrongUse(command, whatIsWrong(messageOf(thrown)));
  }
}

/** In our words: Node’s own are for programmers, with advice about "--" that does not help here. */
function whatIsWrong(message: string): string {
  const option = /'(?:-\w, )?(-[^' ]*)/.exec(message)?.[1] ?? '';
  if (message.startsWith('Unknown')) return `Unknown option “${option}”.`;
  return message.includes('not take an argument') ? `${option} takes no value.` : `${option} needs a value.`;
}

/** Refuses positional arguments that the command does not use. @throws Problem `unknown-option` */
export function refuseSurplus(command: string, surplus: readonly string[]): void {
  if (surplus[0] !== undefined) throw wrongUse(command, `Unexpected argument “${surplus[0]}”.`);
}

/**
 * The single file or folder that a command is about.
 * @throws Problem `unknown-option`: none, or more than one
 */
export function onePath(command: string, positionals: readonly string[], what: 'file' | 'folder'): string {
  const [file, ...surplus] = positionals;
  if (file === undefined || file === '') throw wrongUse(command, `The command ${command} needs the path to a ${what}.`);
  refuseSurplus(command, surplus);
  return file;
}

/** A setting from the command line, else from the environment; null = neither, or empty. */
export function setting(name: string, option: string | undefined, env: Environment): string | null {
  const value = option ?? env[variableOf(name)];
  return value === undefined || value === '' ? null : value;
}

/** The environment variable of an option. */
export const variableOf = (name: string) => `STRANDWARD_${name.replaceAll('-', '_').toUpperCase()}`;

/** Folder of the record, the same for every command. */
export function dataFolderOf(option: string | undefined, env: Environment): string {
  return setting('data', option, env) ?? '.data';
}

function wrongUse(command: string, message: string): Problem {
  return new Problem('unknown-option', message, `For help, run: strandward ${command} --help`);
}
