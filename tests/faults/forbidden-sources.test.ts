/** Files and devices that are no source: a pipe that no one writes to, files of others, devices that are no port. */
import { execFileSync } from 'node:child_process';
import { mkdirSync, mkdtempSync, rmSync, symlinkSync, unlinkSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, beforeEach, expect, it } from 'vitest';
import { Problem } from '../../server/problem/problem.ts';
import { openSource } from '../../server/source/open-source.ts';
import { unusableFolders } from '../../server/source/permitted-source.ts';
import type { LinkStatus } from '../../server/source/source.ts';
import { waitAtMost } from '../../server/worker/wait-at-most.ts';

let folder: string;
let limits: { recordingFolders: readonly string[] };
beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), 'forbidden-'));
  mkdirSync(join(folder, 'logs'));
  writeFileSync(join(folder, 'logs', 'night.log'), 'ms=0 d=1.75\n');
  writeFileSync(join(folder, 'secret'), 'not for the page\n');
  limits = { recordingFolders: [join(folder, 'logs')] };
});
afterEach(() => rmSync(folder, { recursive: true }));

const clock = () => 0;
function refusal(address: string, within: typeof limits | null): string {
  try {
    openSource(address, clock, within);
  } catch (thrown) {
    if (thrown instanceof Problem) return `${thrown.code}: ${thrown.message}`;
    throw thrown;
  }
  return 'accepted';
}

it('refuses a pipe at once, on the command line as well', () => {
  const pipe = join(folder, 'logs', 'pipe');
  execFileSync('mkfifo', [pipe]);
  for (const within of [null, limits])
    expect(refusal(`file:${pipe}`, within)).toMatch(/source-unusable: .*not a regular file/);
});

it('ends, and stops, although its file has become a pipe since it was chosen', async () => {
  const path = join(folder, 'logs', 'night.log');
  const source = openSource(`file:${path}`, clock, limits);
  unlinkSync(path);
  execFileSync('mkfifo', [path]);
  const statuses: LinkStatus[] = [];
  source.start({ bytes: () => {}, opened: () => {}, status: (status) => void statuses.push(status) });
  await expect.poll(() => statuses.at(-1)).toMatchObject({ phase: 'ended', text: expect.stringMatching(/regular/) });
  await source.stop();
});

it('reads from the page only logs in the folders given at the start, whatever links and dots say', () => {
  symlinkSync(join(folder, 'secret'), join(folder, 'logs', 'link.log'));
  const logs = join(folder, 'logs');
  expect(refusal(`file:${logs}/night.log`, limits)).toBe('accepted');
  symlinkSync(join(folder, 'none'), join(logs, 'dangling.log'));
  symlinkSync(folder, join(logs, 'away'));
  const links = [`${logs}/link.log`, `${logs}/dangling.log`, `${logs}/away/secret`, `${logs}/away/none`];
  const outside = [`${folder}/secret`, `${folder}/none`, `${logs}/../secret`, `${logs}/../none`, logs, '/etc/passwd'];
  const forbidden = [...links, ...outside];
  const texts = forbidden.map((path) => refusal(`file:${path}`, limits));
  // Each gets the same text, which does not tell whether the file exists.
  expect(new Set(texts).size).toBe(1);
  expect(texts[0]).toMatch(/^source-unusable: .*only if it is in a folder/);
  // Only within the folder itself is that no secret.
  expect(refusal(`file:${logs}/none`, limits)).toBe(`source-unusable: There is no file ${logs}/none.`);
  expect(refusal(`file:${logs}/night.log`, { recordingFolders: [] })).toMatch(/^source-unusable/);
  expect(refusal(`file:${folder}/secret`, null)).toBe('accepted');
});

it('opens from the page only devices that are serial ports', () => {
  const ports = [
    '/dev/ttyUSB0',
    '/dev/ttyACM1',
    '/dev/ttyS0',
    '/dev/ttyAMA0',
    '/dev/ttymxc1',
    '/dev/tty.usbmodem1',
    '/dev/serial/by-id/usb-a-b',
    '/dev/cu.usbmodem1',
    'COM3',
  ];
  for (const path of ports) expect(refusal(`serial:${path}`, limits)).toBe('accepted');
  const elsewhere = ['/dev/sda', '/dev/mem', '/etc/shadow', '/dev/ttyUSB0/../sda', '/dev/serial/by-id/../../sda'];
  // What is typed on the screens and in the terminals of a machine, passwords included: Linux, its old terminals, macOS.
  const keyboards = ['/dev/tty', '/dev/tty0', '/dev/tty12', '/dev/ttyp3', '/dev/ttyprintk', '/dev/ttys001'];
  for (const path of [...elsewhere, ...keyboards]) {
    expect(refusal(`serial:${path}`, limits)).toMatch(/source-unusable: .*not a serial port/);
  }
  expect(refusal('serial:/dev/pts/3', null)).toBe('accepted');
});

it('gives up what does not answer, and releases it if it comes later', async () => {
  let finish: (value: string) => void = () => {};
  const hanging = new Promise<string>((resolve) => {
    finish = resolve;
  });
  const late: string[] = [];
  await expect(waitAtMost(20, hanging, (value) => void late.push(value))).rejects.toThrow(/did not answer/);
  finish('a port');
  await expect.poll(() => late).toEqual(['a port']);
});

it('names the folders given at the start from which no log can be chosen', async () => {
  const recordingFolders = [join(folder, 'logs'), join(folder, 'none'), join(folder, 'secret')];
  expect(await unusableFolders({ recordingFolders })).toEqual([
    `No recorded log can be chosen from ${folder}/none (--recordings): no such file or directory.`,
    `No recorded log can be chosen from ${folder}/secret (--recordings): it is not a folder.`,
  ]);
});
