import { dataFolderOf, type Environment, onePath, type PrintRequest, readArguments } from './arguments.ts';

/** Replace the record with a backup, then end. */
export interface RestoreRequest {
  readonly kind: 'restore';
  readonly dataFolder: string;
  readonly backup: string;
  /** Runs that cannot be read are left out, instead of refusing the backup. */
  readonly withoutDamagedRuns: boolean;
}

const HELP = `Replaces the record with a backup while Strandward is stopped. The old record is kept next to it.

  strandward restore FILE [options]

  --data FOLDER           folder of the record, or STRANDWARD_DATA   (default: .data)
  --without-damaged-runs  leave out runs that cannot be read, and say which`;

/** @throws Problem `unknown-option` */
export function readRestore(args: readonly string[], env: Environment): RestoreRequest | PrintRequest {
  const { options, positionals, flags, help } = readArguments('restore', args, ['data'], ['without-damaged-runs']);
  if (help) return { kind: 'print', text: HELP };
  return {
    kind: 'restore',
    dataFolder: dataFolderOf(options.data, env),
    backup: onePath('restore', positionals, 'file'),
    withoutDamagedRuns: flags.has('without-damaged-runs'),
  };
}
