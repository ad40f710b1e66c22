import { chmodSync, closeSync, mkdirSync, openSync, statSync } from 'node:fs';

/** The record contains the passwords of channels, so only the service's user may read it. */
const FILE_MODE = 0o600;
const FOLDER_MODE = 0o700;

/** Creates a folder for this user only. An existing one keeps its mode, because it may be shared on purpose. */
export function makePrivateFolder(folder: string): void {
  mkdirSync(folder, { recursive: true, mode: FOLDER_MODE });
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
