import { lstatSync, realpathSync, statSync } from 'node:fs';
import { dirname, normalize, relative } from 'node:path';
import { messageOf, Problem } from '../problem/problem.ts';
import { requireAnswer } from '../worker/hanging-path.ts';
import type { SourceAddress } from './source-address.ts';

/** Where a source that is set on the page, not by whoever starts the service, may read. */
export interface SourceLimits {
  /** Recorded logs may be in these folders or below them. */
  readonly recordingFolders: readonly string[];
}

/** Not the screens and terminals of the machine (tty1, ttyp0, ttys001), where passwords are typed. */
const SERIAL_PORT =
  /^\/dev\/(?:tty(?!(?:[a-z]?[\da-f]+|printk)$)|cu\.|serial\/by-(?:id|path)\/)[^/]+$|^(?:COM|com)\d+$/;

/** @throws Problem `source-unusable`: the page may not choose this file or device */
export function refuseForbidden(address: SourceAddress, { recordingFolders }: SourceLimits): void {
  if (address.kind === 'serial' && !SERIAL_PORT.test(normalize(address.path))) {
    throw new Problem(
      'source-unusable',
      `${address.path} is not a serial port.`,
      'Choose one of the ports in the list. Any other device can be given with --source when Strandward starts.',
    );
  }
  if (address.kind === 'file' && !recordingFolders.some((folder) => isWithin(folder, address.path))) {
    if (recordingFolders.some((folder) => isMissingIn(folder, address.path))) {
      throw new Problem('source-unusable', `There is no file ${address.path}.`, 'Check its name.');
    }
    const where =
      recordingFolders.length === 0
        ? 'Start Strandward with --recordings FOLDER to allow the logs of a folder'
        : `Put the log into ${recordingFolders.join(' or ')}`;
    throw new Problem(
      'source-unusable',
      'A recorded log can be replayed from the page only if it is in a folder that was allowed at the start.',
      `${where}, or import the log on the page of all runs.`,
    );
  }
}

/** Folders that hold no log now, with what is wrong with each, as sentences. A drive may be mounted later, so they stay allowed. */
export async function unusableFolders({ recordingFolders }: SourceLimits): Promise<readonly string[]> {
  const whys = await Promise.all(recordingFolders.map(whyUnusable));
  return whys.flatMap((why, i) =>
    why === null ? [] : `No recorded log can be chosen from ${recordingFolders[i]} (--recordings): ${why}.`,
  );
}

async function whyUnusable(folder: string): Promise<string | null> {
  try {
    await requireAnswer(folder);
    return statSync(folder).isDirectory() ? null : 'it is not a folder';
  } catch (thrown) {
    return messageOf(thrown);
  }
}

/** Nothing has this name in a folder that may be read. Elsewhere, the refusal does not reveal whether a file exists. */
function isMissingIn(folder: string, path: string): boolean {
  if (lstatSync(path, { throwIfNoEntry: false }) !== undefined) return false;
  return isWithin(folder, dirname(path), true);
}

/** Links are followed, so that none leads out of the folder. A path that does not exist is in no folder. */
function isWithin(folder: string, path: string, orItself = false): boolean {
  try {
    const below = relative(realpathSync(folder), realpathSync(path));
    return (below !== '' || orItself) && !/^\.\.(?:[\\/]|$)/.test(below) && !/^(?:[A-Za-z]:|[\\/])/.test(below);
  } catch {
    return false;
  }
}
