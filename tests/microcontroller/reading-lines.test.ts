import { lstatSync, mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, afterEach, beforeAll, describe, expect, test } from 'vitest';
import { type EmulatedBoard, startEmulatedBoard } from './emulated-board.ts';
import { type LineListener, listen, numberOf, stepsOf } from './line-listener.ts';
import { missingPackages, missingSentence } from './toolchain.ts';

let folder: string;
let board: EmulatedBoard;
let listener: LineListener | undefined;

const linkExists = () => lstatSync(board.linkPath, { throwIfNoEntry: false }) !== undefined;
const isBanner = (text: string) => text.includes('# strandward reference firmware 1.0');

beforeAll(async () => {
  folder = mkdtempSync(join(tmpdir(), 'strandward-board-'));
  board = await startEmulatedBoard({ linkPath: join(folder, 'tty') });
});

afterEach(async () => {
  await listener?.close();
  listener = undefined;
});

afterAll(async () => {
  await board?.stop();
  rmSync(folder, { recursive: true, force: true });
});

describe('the reference firmware', () => {
  test('prints 50 complete lines per second, numbered without a gap, with correct checksums', async () => {
    listener = await listen(board.linkPath);
    // The first lines may be those of the banner.
    const first = await listener.first((line) => line.fields.has('n'));
    const lines = [first, ...(await listener.next(149))];
    const last = lines.at(-1) ?? first;

    expect(lines.filter((line) => !line.hasCorrectChecksum)).toEqual([]);
    for (const line of lines) {
      expect([...line.fields.keys()]).toEqual(['ms', 'n', 'd', 't1', 'f1', 't2', 'f2', 't3', 'f3', 'len', 'v']);
    }
    expect(new Set(stepsOf(lines.map((line) => numberOf(line, 'n'))))).toEqual(new Set([1]));
    const stepsMs = stepsOf(lines.map((line) => numberOf(line, 'ms')));
    expect(Math.min(...stepsMs)).toBeGreaterThanOrEqual(19);
    expect(Math.max(...stepsMs)).toBeLessThanOrEqual(21);
    expect(numberOf(last, 'ms') - numberOf(first, 'ms')).toBe(149 * 20);

    // In step with real time, apart from delays of a busy machine.
    const tookMs = last.atMs - first.atMs;
    expect(tookMs).toBeGreaterThan(149 * 20 * 0.8);
    expect(tookMs).toBeLessThan(149 * 20 * 2);
  });

  test('prints banner and cause after a reset, and ms and n start again', async () => {
    listener = await listen(board.linkPath);
    const before = await listener.first((line) => line.fields.has('n') && numberOf(line, 'n') > 5);
    await board.reset();
    await listener.until((line) => isBanner(line.text));
    const [cause, ...fresh] = await listener.next(4);

    expect(cause?.text).toBe('# started by reset pin*5B');
    expect(fresh.map((line) => numberOf(line, 'n'))).toEqual([0, 1, 2]);
    expect(fresh.map((line) => numberOf(line, 'ms'))).toEqual([20, 40, 60]);
    expect(numberOf(before, 'ms')).toBeGreaterThan(60);
    expect(fresh.every((line) => line.hasCorrectChecksum)).toBe(true);
  });

  test('is restarted by the watchdog if it hangs, and prints that in a note', async () => {
    listener = await listen(board.linkPath);
    await listener.next(3);
    await board.hang();
    await listener.until((line) => isBanner(line.text));
    const [cause, fresh] = await listener.next(2);
    expect(cause?.text).toMatch(/^# started by watchdog: the program hung\*[0-9A-F]{2}$/);
    expect(cause?.hasCorrectChecksum).toBe(true);
    expect(fresh?.fields.get('n')).toBe('0');
  });

  test('keeps running while the cable is unplugged, which hangs up the reader and removes the link', async () => {
    listener = await listen(board.linkPath);
    const before = numberOf(await listener.first((line) => line.fields.has('n')), 'n');
    await board.unplug();
    expect(linkExists()).toBe(false);
    await listener.close(); // after a hang-up the binding may never emit close

    await board.plug();
    expect(linkExists()).toBe(true);
    listener = await listen(board.linkPath);
    const lines = await listener.next(5);
    expect(Math.min(...lines.map((line) => numberOf(line, 'n')))).toBeGreaterThan(before);
    expect(lines.every((line) => line.hasCorrectChecksum)).toBe(true);
  });

  test('does not send a backlog to a reader that opens the port late', async () => {
    listener = await listen(board.linkPath);
    await listener.next(1);
    await listener.close();
    await new Promise((resolve) => setTimeout(resolve, 1_000));
    const openedMs = await board.time();
    listener = await listen(board.linkPath);
    const first = await listener.first(() => true);
    expect(numberOf(first, 'ms')).toBeGreaterThan(openedMs - 100);
  });
});

describe('the emulated board', () => {
  test('refuses a wrong command with a reason', async () => {
    await expect(board.adc(9, 100)).rejects.toThrow('no analog input 9; there are 0 to 7');
    await expect(board.adc(0, 9_000)).rejects.toThrow('the voltage in mV must be from 0 to 5000');
  });

  test('leaves a dangling link when killed, which a new one replaces', async () => {
    const linkPath = join(folder, 'killed');
    const first = await startEmulatedBoard({ linkPath });
    await first.kill();
    expect(lstatSync(linkPath).isSymbolicLink()).toBe(true);
    await expect(listen(linkPath)).rejects.toThrow('No such file or directory');
    await expect(first.adc(0, 1)).rejects.toThrow('The emulator has ended (SIGKILL)');

    const second = await startEmulatedBoard({ linkPath });
    const received = await listen(linkPath);
    expect((await received.next(2)).every((line) => line.hasCorrectChecksum)).toBe(true);
    await received.close();
    await second.stop();
    expect(lstatSync(linkPath, { throwIfNoEntry: false })).toBeUndefined();
  });

  test('does not overwrite a file with its link', async () => {
    await expect(startEmulatedBoard({ linkPath: folder })).rejects.toThrow('exists and is not a symbolic link');
  });

  test('names missing packages in one sentence', () => {
    const isNotAvr = (file: string) => !/avr/.test(file);
    expect(missingPackages('/usr/bin:/bin', () => true)).toEqual([]);
    expect(missingSentence([])).toBeUndefined();
    expect(missingSentence(missingPackages('/usr/bin:/bin', isNotAvr))).toBe(
      "The emulated microcontroller can't be built. Install the missing Debian packages: " +
        'apt-get install -y gcc-avr avr-libc libsimavr-dev',
    );
  });
});
