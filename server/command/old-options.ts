import { type Environment, type PrintRequest, readArguments, refuseSurplus } from './arguments.ts';
import { type ImportRequest, readImport } from './import.ts';
import { type RestoreRequest, readRestore } from './restore.ts';
import { WATCH_OPTIONS } from './watch.ts';

export interface OldOption {
  readonly request: ImportRequest | RestoreRequest | PrintRequest;
  /** A line about what to use instead. */
  readonly advice: string;
}

/**
 * Reads `--restore FILE` and `--take-in FILE`, which are now commands. They still work, together with any option of `watch`,
 * because compose files and scripts use them.
 * @returns null = neither option is used
 * @throws Problem `unknown-option`, `bad-setting`
 */
export function readOldOption(args: readonly string[], env: Environment): OldOption | null {
  if (!args.some((arg) => /^--(restore|take-in)(=|$)/.test(arg))) return null;
  const { options, positionals, help } = readArguments('watch', args, [
    ...WATCH_OPTIONS,
    'restore',
    'take-in',
    'started',
    'rate',
  ]);
  refuseSurplus('watch', positionals);
  const restores = options.restore !== undefined;
  const file = (restores ? options.restore : options['take-in']) ?? '';
  const forwarded = (name: 'data' | 'started' | 'rate') =>
    options[name] === undefined ? [] : [`--${name}=${options[name]}`];
  const commandArgs = [
    ...forwarded('data'),
    ...(restores ? [] : [...forwarded('started'), ...forwarded('rate')]),
    ...(help ? ['--help'] : []),
    '--',
    file,
  ];
  return restores
    ? {
        request: readRestore(commandArgs, env),
        advice: `--restore is now a command. Next time: strandward restore ${file}`,
      }
    : {
        request: readImport(commandArgs, env),
        advice: `--take-in is now a command. Next time: strandward import ${file}`,
      };
}
