import { join } from 'node:path';

/** What is set when the service starts. Everything about the line itself is in `LineSettings`. */
export interface StartupSettings {
  readonly host: string;
  readonly port: number;
  /** Folder of the database; made if it is missing. */
  readonly dataFolder: string;
  /** Where backups are made automatically; null = only when asked, in `usualBackupFolder`. */
  readonly backupFolder: string | null;
  /** Address of the source; null = what the set-up page says. */
  readonly source: string | null;
  /** Needed to listen beyond loopback; null = none. */
  readonly accessKey: string | null;
  readonly logLevel: LogLevel;
}

export const LOG_LEVELS = ['debug', 'info', 'warn', 'error', 'silent'] as const;
export type LogLevel = (typeof LOG_LEVELS)[number];

/** Whether only this machine can reach an address. */
export function isLoopback(host: string): boolean {
  return host === 'localhost' || host === '::1' || /^127(\.\d{1,3}){3}$/.test(host);
}

/** Where backups go when no folder is given. */
export function usualBackupFolder(dataFolder: string): string {
  return join(dataFolder, 'backups');
}
