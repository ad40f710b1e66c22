import { chmodSync, closeSync, mkdirSync, openSync, readdirSync, statSync } from 'node:fs';
import { dirname, join } from 'node:path';
import type { ListedFile } from '../monitor/diagnosis.ts';

/** The record contains the passwords of channels, so only the service's user may read it. */
const FILE_MODE = 0o600;
const FOLDER_MODE = 0o700;

/**
 * Creates a folder for this user only. An existing one keeps its mode, because it may be shared on purpose. (The recursive
 * `mkdirSync` of Node never returns if the folder above is there but no other can be made in it, as below an automounter.)
 */
export function makePrivateFolder(folder: string): void {
  if (statSync(folder, { throwIfNoEntry: false })?.isDirectory()) return;
  const above = dirname(folder);
  if (above !== folder) makePrivateFolder(above);
  mkdirSync(folder, { mode: FOLDER_MODE });
}

/** Creates an empty file for this user only, or takes an existing one away from other users. */
export function makePrivateFile(path: string): void {
  closeSync(openSync(path, 'a', FILE_MODE));
  makePrivate(path);
}

/** Takes a file, if it exists, away from other users. */
export function makePrivate(path: string): void {
  const mode = statSync(path, { throwIfNoEntry: false })?.mode;
  if (mode !== undefined && (mode & 0o777) !== FILE_MODE) chmodSync(path, FILE_MODE);
}

/** Bytes of a file; 0 = there is none. */
export function sizeOf(path: string): number {
  return statSync(path, { throwIfNoEntry: false })?.size ?? 0;
}

/** The files of a data folder, without those in its folders; none if it cannot be read. */
export function listFolder(folder: string): ListedFile[] {
  try {
    return readdirSync(folder).flatMap((name) => {
      const stats = statSync(join(folder, name), { throwIfNoEntry: false });
      return stats?.isFile() ? [{ name, bytes: stats.size, changedMs: stats.mtimeMs }] : [];
    });
  } catch {
    return [];
  }
}
