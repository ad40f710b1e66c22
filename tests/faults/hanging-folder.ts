import { execFileSync } from 'node:child_process';
import { closeSync, mkdtempSync, openSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';

export interface HangingFolder {
  readonly path: string;
  /** The drive is unmounted, so its folder is an empty one. What waits for it still hangs. */
  detach(): void;
  /** The server is back, and says that the drive is gone: what waits for it fails. */
  release(): void;
}

/** A folder whose every use hangs, like a network drive whose server is off: a FUSE file system that answers nothing. null = not possible here */
export function hangingFolder(): HangingFolder | null {
  const path = mkdtempSync(join(tmpdir(), 'hanging-'));
  let device = -1;
  try {
    device = openSync('/dev/fuse', 'r+');
    const options = 'fd=3,rootmode=40000,user_id=0,group_id=0';
    execFileSync('mount', ['-i', '-t', 'fuse', '-o', options, 'hanging', path], {
      stdio: ['ignore', 'ignore', 'ignore', device],
    });
  } catch {
    if (device >= 0) closeSync(device);
    rmSync(path, { recursive: true });
    return null;
  }
  let detached = false;
  const detach = () => {
    if (!detached) execFileSync('umount', ['-l', path]);
    detached = true;
  };
  let released = false;
  return {
    path,
    detach,
    release() {
      if (!released) {
        released = true;
        detach();
        closeSync(device);
      }
      // Again at each call: a service may have made it anew.
      rmSync(path, { recursive: true, force: true });
    },
  };
}

const probe = hangingFolder();
probe?.release();
/** Whether such a folder is possible here. */
export const HANGS = probe !== null;
