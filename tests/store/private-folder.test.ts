import { spawnSync } from 'node:child_process';
import { mkdtempSync, rmSync, statSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { expect, it } from 'vitest';
import { makePrivateFolder } from '../../server/store/private-files.ts';

it('makes a folder with those above it for this user only, and takes one that is there', () => {
  const top = mkdtempSync(join(tmpdir(), 'strandward-private-'));
  try {
    const folder = join(top, 'a', 'b');
    makePrivateFolder(folder);
    makePrivateFolder(folder);
    for (const made of [join(top, 'a'), folder]) expect(statSync(made).mode & 0o777).toBe(0o700);
    writeFileSync(join(top, 'file'), '');
    expect(() => makePrivateFolder(join(top, 'file'))).toThrow(/EEXIST/);
    expect(() => makePrivateFolder(join(top, 'file', 'b'))).toThrow(/ENOTDIR/);
  } finally {
    rmSync(top, { recursive: true });
  }
});

// As below an automounter whose stick is not plugged in: the folder above is there, but none can be made in it.
it.skipIf(process.platform !== 'linux')('fails at once where no folder can be made', () => {
  const built = new URL('../../.build/server/store/private-files.js', import.meta.url).href;
  const program = `(await import(${JSON.stringify(built)})).makePrivateFolder('/proc/strandward/backups')`;
  const { signal, stderr } = spawnSync(process.execPath, ['--input-type=module', '--eval', program], {
    timeout: 15_000,
    killSignal: 'SIGKILL',
    encoding: 'utf8',
  });
  expect([signal, stderr]).toEqual([null, expect.stringContaining('ENOENT')]);
});
