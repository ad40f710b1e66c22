import { execFileSync } from 'node:child_process';
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';

/** A separate disk of a few megabytes; null = this user may not mount one. */
function smallDisk(megabytes: number): string | null {
  const folder = mkdtempSync(join(tmpdir(), 'small-disk-'));
  try {
    execFileSync('mount', ['-t', 'tmpfs', '-o', `size=${megabytes}m`, 'tmpfs', folder], { stdio: 'ignore' });
    return folder;
  } catch {
    rmSync(folder, { recursive: true });
    return null;
  }
}

const disks: string[] = [];
export function disk(megabytes: number): string {
  const folder = smallDisk(megabytes);
  if (folder === null) throw new Error('no small disk');
  disks.push(folder);
  return folder;
}

export function removeDisks(): void {
  for (const folder of disks.splice(0)) {
    execFileSync('umount', ['-l', folder]);
    rmSync(folder, { recursive: true });
  }
}

const probe = smallDisk(1);
if (probe !== null) {
  execFileSync('umount', [probe]);
  rmSync(probe, { recursive: true });
}
/** Whether this user may mount a disk. */
export const MOUNTS = probe !== null;
