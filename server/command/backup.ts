import { usualBackupFolder } from '../settings/startup-settings.ts';
import {
  dataFolderOf,
  type Environment,
  type PrintRequest,
  readArguments,
  refuseSurplus,
  setting,
} from './arguments.ts';

/** Make a backup of the record, then end. */
export interface BackupRequest {
  readonly kind: 'backup';
  readonly dataFolder: string;
  readonly backupFolder: string;
}

const HELP = `Makes a backup of the record while Strandward is stopped. Older backups are kept.

  strandward backup [FOLDER] [options]

  FOLDER              folder for the backup, or STRANDWARD_BACKUP   (default: “backups” in the data folder)
  --data FOLDER       folder of the record, or STRANDWARD_DATA      (default: .data)

While Strandward is running, make backups on its Set-up page.`;

/** @throws Problem `unknown-option` */
export function readBackup(args: readonly string[], env: Environment): BackupRequest | PrintRequest {
  const { options, positionals, help } = readArguments('backup', args, ['data']);
  if (help) return { kind: 'print', text: HELP };
  const [folder, ...surplus] = positionals;
  refuseSurplus('backup', surplus);
  const dataFolder = dataFolderOf(options.data, env);
  return {
    kind: 'backup',
    dataFolder,
    backupFolder: setting('backup', folder, env) ?? usualBackupFolder(dataFolder),
  };
}
