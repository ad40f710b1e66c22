import { isIPv4 } from 'node:net';
import { join } from 'node:path';

/** Settings passed at start. Everything about the line itself is in `LineSettings`. */
export interface StartupSettings {
  readonly host: string;
  readonly port: number;
  /** Folder of the database; created if it is missing. */
  readonly dataFolder: string;
  /** Folder of automatic backups; null = none, and those on request go to `usualBackupFolder`. */
  readonly backupFolder: string | null;
  /** Address of the source; null = as set on the set-up page. */
  readonly source: string | null;
  /** Folders whose recorded logs can be chosen as the source on the page. */
  readonly recordingFolders: readonly string[];
  /** Pairs any device and lets any program in; null = none. */
  readonly accessKey: string | null;
  /** null = HTTP only. */
  readonly https: HttpsSettings | null;
  /** Addresses or networks of reverse proxies, whose forwarding headers are believed. */
  readonly trustedProxies: readonly string[];
  readonly logLevel: LogLevel;
}

/** Where the certificate for HTTPS comes from: files, or the authority of the house, kept in a folder. */
export type HttpsSettings =
  | { readonly kind: 'files'; readonly certFile: string; readonly keyFile: string }
  | { readonly kind: 'own-ca'; readonly folder: string };

export const LOG_LEVELS = ['debug', 'info', 'warn', 'error', 'silent'] as const;
export type LogLevel = (typeof LOG_LEVELS)[number];

/** Whether an address can be reached only from this machine. @param address also as in a URL, in brackets */
export function isLoopback(address: string): boolean {
  const host = address.toLowerCase().replace(/^\[(.*)\]$|\.$/, '$1');
  return host === 'localhost' || host === '::1' || (isIPv4(host) && host.startsWith('127.'));
}

/** Folder of the authority of the house when none is set. */
export function usualAuthorityFolder(dataFolder: string): string {
  return join(dataFolder, 'authority');
}

/** Folder for backups when none is set. */
export function usualBackupFolder(dataFolder: string): string {
  return join(dataFolder, 'backups');
}
