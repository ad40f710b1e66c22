import { lstatSync, mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, afterEach, beforeAll, describe, expect, test } from 'vitest';
import { type EmulatedBoard, startEmulatedBoard } from './emulated-board.ts';
import { type LineListener, listen, numberOf } from './line-listener.ts';
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

describe('the reference firmware, read through the serial binding', () => {
  test('prints 50 whole lines a second, numbered without a gap, each with the right checksum', async () => {
    listener = await listen(board.linkPath);
    // A listener that is quick enough still hears the banner.
    const firstHeard = (await listener.until((line) => line.fields.has('n'))).at(-1)!;
    const lines = [firstHeard, ...(await listener.next(149))];

    expect(lines.filter((line) => !line.checksumIsRight)).toEqual([]);
    for (const line of lines) {
      expect([...line.fields.keys()]).toEqual(['ms', 'n', 'd', 't1', 'f1', 't2', 'f2', 't3', 'f3', 'len', 'v']);
    }
    const first = lines[0]!;
    const steps = lines.slice(1).map((line, i) => ({
      n: numberOf(line, 'n') - numberOf(lines[i]!, 'n'),
      ms: numberOf(line, 'ms') - numberOf(lines[i]!, 'ms'),
    }));
    expect(new Set(steps.map(({ n }) => n))).toEqual(new Set([1]));
    expect(Math.min(...steps.map(({ ms }) => ms))).toBeGreaterThanOrEqual(19);
    expect(Math.max(...steps.map(({ ms }) => ms))).toBeLessThanOrEqual(21);
    expect(numberOf(lines[149]!, 'ms') - numberOf(first, 'ms')).toBe(149 * 20);

    // Held to real time, with room for a busy machine.
    const tookMs = lines[149]!.atMs - first.atMs;
    expect(tookMs).toBeGreaterThan(149 * 20 * 0.8);
    expect(tookMs).toBeLessThan(149 * 20 * 2);
  });

  test('after a press of the reset button, banner and cause come first and ms and n begin anew', async () => {
    listener = await listen(board.linkPath);
    const before = (await listener.until((line) => line.fields.has('n') && numberOf(line, 'n') > 5)).at(-1)!;
    await board.reset();
    await listener.until((line) => isBanner(line.text));
    const [cause, ...fresh] = await listener.next(4);

    expect(cause!.text).toBe('# started by reset pin*5B');
    expect(fresh.map((line) => numberOf(line, 'n'))).toEqual([0, 1, 2]);
    expect(fresh.map((line) => numberOf(line, 'ms'))).toEqual([20, 40, 60]);
    expect(numberOf(before, 'ms')).toBeGreaterThan(60);
    expect(fresh.every((line) => line.checksumIsRight)).toBe(true);
  });

  test('when the program hangs, the watchdog restarts it and a note says so', async () => {
    listener = await listen(board.linkPath);
    await listener.next(3);
    await board.hang();
    await listener.until((line) => isBanner(line.text));
    const [cause, fresh] = await listener.next(2);
    expect(cause!.text).toMatch(/^# started by watchdog: the program hung\*[0-9A-F]{2}$/);
    expect(cause!.checksumIsRight).toBe(true);
    expect(numberOf(fresh!, 'n')).toBe(0);
  });

  test('pulling the cable hangs the reader up and removes the link; plugging it in again goes on where the board is', async () => {
    listener = await listen(board.linkPath);
    const before = numberOf((await listener.next(2))[1]!, 'n');
    await board.unplug();
    expect(linkExists()).toBe(false);
    await listener.close(); // after a hang-up the binding may never say close by itself

    await board.plug();
    expect(linkExists()).toBe(true);
    listener = await listen(board.linkPath);
    const lines = await listener.next(5);
    expect(numberOf(lines[0]!, 'n')).toBeGreaterThan(before);
    expect(lines.every((line) => line.checksumIsRight)).toBe(true);
  });

  test('who opens the port late hears the present, not a backlog', async () => {
    listener = await listen(board.linkPath);
    await listener.next(1);
    await listener.close();
    await new Promise((resolve) => setTimeout(resolve, 1_000));
    const openedMs = await board.time();
    listener = await listen(board.linkPath);
    const first = (await listener.next(1))[0]!;
    expect(numberOf(first, 'ms')).toBeGreaterThan(openedMs - 100);
  });
});

describe('the emulated board as a helper of tests', () => {
  test('a wrong command is refused with a sentence', async () => {
    await expect(board.adc(9, 100)).rejects.toThrow('no analog input 9; there are 0 to 7');
    await expect(board.adc(0, 9_000)).rejects.toThrow('the voltage in mV must be from 0 to 5000');
  });

  test('a killed emulator leaves its link dangling, and a new one takes the same link over', async () => {
    const linkPath = join(folder, 'killed');
    const first = await startEmulatedBoard({ linkPath });
    await first.kill();
    expect(lstatSync(linkPath).isSymbolicLink()).toBe(true);
    await expect(listen(linkPath)).rejects.toThrow('No such file or directory');
    await expect(first.adc(0, 1)).rejects.toThrow('the emulator has ended (SIGKILL)');

    const second = await startEmulatedBoard({ linkPath });
    const heard = await listen(linkPath);
    expect((await heard.next(2)).every((line) => line.checksumIsRight)).toBe(true);
    await heard.close();
    await second.stop();
    expect(lstatSync(linkPath, { throwIfNoEntry: false })).toBeUndefined();
  });

  test('it does not overwrite a file that lies where the link should be', async () => {
    await expect(startEmulatedBoard({ linkPath: folder })).rejects.toThrow('exists and is no symbolic link');
  });

  test('missing tools are named in one sentence', () => {
    const isNotAvr = (file: string) => !/avr/.test(file);
    expect(missingPackages('/usr/bin:/bin', () => true)).toEqual([]);
    expect(missingSentence([])).toBeUndefined();
    expect(missingSentence(missingPackages('/usr/bin:/bin', isNotAvr))).toBe(
      "The emulated microcontroller can't be built: install the Debian packages it needs with: " +
        'apt-get install -y gcc-avr avr-libc libsimavr-dev',
    );
  });
});
