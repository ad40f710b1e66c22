import { access, constants, readdir, readFile, readlink, realpath } from 'node:fs/promises';
import { serialText } from './serial-text.ts';

const PROCESSES = '/proc';

/**
 * Why a serial port cannot be used now, as a clause; null = nothing is known against it. Found without opening the port,
 * which would reset many boards. On systems without `/proc`, and of other users' programs, the holder is not found.
 * @param path the device or a link to it
 */
export async function portProblem(path: string): Promise<string | null> {
  try {
    await access(path, constants.R_OK | constants.W_OK);
    const holder = await holderOf(await realpath(path));
    return holder === null ? null : `it is open in ${holder}; close that first`;
  } catch (thrown) {
    return serialText(String(thrown));
  }
}

/** Name of another program that has the device open; null = none that may be seen. */
async function holderOf(path: string): Promise<string | null> {
  for (const pid of await entries(PROCESSES)) {
    if (!/^\d+$/.test(pid) || Number(pid) === process.pid) continue;
    const folder = `${PROCESSES}/${pid}`;
    for (const file of await entries(`${folder}/fd`)) {
      try {
        if ((await readlink(`${folder}/fd/${file}`)) === path) return (await readFile(`${folder}/comm`, 'utf8')).trim();
      } catch {
        // The file was closed or the program ended during the search.
      }
    }
  }
  return null;
}

async function entries(folder: string): Promise<readonly string[]> {
  try {
    return await readdir(folder);
  } catch {
    // No such system, another user's program, or one that has just ended.
    return [];
  }
}
