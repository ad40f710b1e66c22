import { dataFolderOf, type Environment, oneFile, type PrintRequest, readArguments } from './arguments.ts';

/** Put a backup in the place of the record, then end. */
export interface RestoreRequest {
  readonly kind: 'restore';
  readonly dataFolder: string;
  readonly backup: string;
}

const HELP = `Puts a backup in the place of the record, while Strandward is stopped. The record that was there is kept beside it.

  strandward restore FILE [options]

  --data FOLDER       where the record is kept, also STRANDWARD_DATA   (default .data)`;

/** @throws Problem `unknown-option` */
export function readRestore(args: readonly string[], env: Environment): RestoreRequest | PrintRequest {
  const { options, positionals, help } = readArguments('restore', args, ['data']);
  if (help) return { kind: 'print', text: HELP };
  return { kind: 'restore', dataFolder: dataFolderOf(options.data, env), backup: oneFile('restore', positionals) };
}
