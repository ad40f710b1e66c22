/** The serial source with the real binding on pseudo-terminals. */
import { mkdirSync, mkdtempSync, rmSync, symlinkSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';
import { SerialPort } from 'serialport';
import { afterAll, afterEach, beforeEach, describe, expect, test } from 'vitest';
import { portProblem } from '../../server/source/port-problem.ts';
import { serialSource } from '../../server/source/serial-source.ts';
import { serialText } from '../../server/source/serial-text.ts';
import type { Source } from '../../server/source/source.ts';
import { CollectingListener, until } from './collecting-listener.ts';
import { PtyCable } from './pty-cable.ts';

const folder = mkdtempSync(join(tmpdir(), 'serial-source-'));
let cable: PtyCable;
let source: Source | null = null;
let number = 0;

beforeEach(() => {
  cable = new PtyCable(join(folder, `port${++number}`));
});

afterEach(async () => {
  await source?.stop();
  source = null;
  await cable.unplug();
});

afterAll(() => rmSync(folder, { recursive: true }));

function startOn(path = cable.link, silenceMs = 1000): CollectingListener {
  const listener = new CollectingListener();
  source = serialSource({ path, baud: 115_200, silenceMs }, () => 0);
  source.start(listener);
  return listener;
}

/** Send a line until it arrives, because bytes are lost while the port is being opened, as on a real one. */
async function sendUntilRead(listener: CollectingListener, line: string): Promise<void> {
  const timer = setInterval(() => cable.send(`${line}\n`), 20);
  try {
    await until(`“${line}” arrives`, () => listener.text.includes(line));
  } finally {
    clearInterval(timer);
  }
}

test('reads lines from a pseudo-terminal', async () => {
  await cable.plugIn();
  const listener = startOn();
  await sendUntilRead(listener, 'd=1.752');
  expect(listener.statusText).toMatch(new RegExp(`Reading from ${cable.link}`));
});

test('waits for a missing port and opens it when it appears', async () => {
  const listener = startOn();
  await until('it is reported', () => listener.phases.includes('waiting'));
  expect(listener.statusText).toMatch(
    /Cannot open .*port\d+: there is no such port; is the cable plugged in\? Trying again in 0\.25 s\./,
  );
  await cable.plugIn();
  await sendUntilRead(listener, 'd=1.752');
});

test('reports a busy port and opens it when it is free', async () => {
  await cable.plugIn();
  const other = new SerialPort({ path: cable.link, baudRate: 115_200, autoOpen: false });
  await new Promise<void>((resolve, reject) => other.open((error) => (error === null ? resolve() : reject(error))));
  const listener = startOn();
  await until('it is reported', () => listener.phases.includes('waiting'));
  expect(listener.statusText).toMatch(
    /it is in use by another program; close that \(a serial monitor\?\)\. Trying again/,
  );
  expect(listener.count('opened')).toBe(0);
  await new Promise((resolve) => other.close(resolve));
  await sendUntilRead(listener, 'd=1.752');
});

test('names the program that has opened a port, without opening it', async () => {
  await cable.plugIn();
  // Unlike the driver of a real adapter, socat is a program, which holds its end open.
  expect(await portProblem(cable.link)).toBe('it is open in socat; close that first');
});

test('reports that a port is gone', async () => {
  expect(await portProblem(join(folder, 'nothing'))).toBe('there is no such port; is the cable plugged in?');
});

test.each(['SIGKILL', 'SIGTERM'] as const)('continues after unplugging (%s) and plugging in', async (signal) => {
  await cable.plugIn();
  const listener = startOn();
  await sendUntilRead(listener, 'n=1');
  await cable.unplug(signal);
  await until('it is noticed', () => listener.phases.includes('waiting'));
  await sleep(600);
  await cable.plugIn();
  await sendUntilRead(listener, 'n=2');
  expect(listener.count('opened')).toBeGreaterThanOrEqual(2);
});

test('closes a silent port and opens it again', async () => {
  await cable.plugIn();
  const listener = startOn(cable.link, 300);
  await until('it is opened three times', () => listener.count('opened') >= 3);
  expect(listener.statusText).toMatch(/it is open, but nothing arrived for 0\.3 s, so it is opened again/);
  await sendUntilRead(listener, 'd=1.752');
});

test('reports a device that is not a serial port', async () => {
  const listener = startOn('/dev/null');
  await until('it is reported', () => listener.phases.includes('waiting'));
  expect(listener.statusText).toMatch(/Cannot open \/dev\/null: it is not a serial port\./);
});

describe('an error of the system becomes a reason and what to do', () => {
  test.each([
    ['Error Resource temporarily unavailable Cannot lock port', /in use by another program/],
    ['Opening COM3: Access denied', /in use by another program/],
    ['Error: No such file or directory, cannot open /dev/ttyUSB0', /is the cable plugged in/],
    ['Opening COM9: File not found', /is the cable plugged in/],
    ['Error: Permission denied, cannot open /dev/ttyUSB0', /group dialout/],
    ['Error: Input/output error setting custom baud rate of 115200', /unplugged/],
    ['EBADF: bad file descriptor, read', /unplugged/],
    ['Error: Inappropriate ioctl for device', /not a serial port/],
    ['Error: something new', /^something new$/],
  ])('%s', (message, text) => {
    expect(serialText(message)).toMatch(text);
  });
});

test('releases the port, so that another program can open it, and opens it again on request', async () => {
  await cable.plugIn();
  const listener = startOn();
  await sendUntilRead(listener, 'd=1.752');
  await source?.release?.(120_000);
  expect(listener.statuses.at(-1)).toEqual({
    phase: 'released',
    text: `Released ${cable.link} to other programs for 2 min.`,
    untilMs: 120_000,
  });
  // It is closed by now: no waiting here.
  const other = new SerialPort({ path: cable.link, baudRate: 57_600, autoOpen: false });
  await new Promise<void>((resolve, reject) => other.open((error) => (error ? reject(error) : resolve())));
  await new Promise<void>((resolve) => other.close(() => resolve()));
  source?.resume?.();
  await sendUntilRead(listener, 'd=1.753');
});

test('opens a released port again automatically', async () => {
  await cable.plugIn();
  const listener = startOn();
  await sendUntilRead(listener, 'd=1.752');
  await source?.release?.(200);
  await sendUntilRead(listener, 'd=1.753');
  expect(listener.phases.slice(-3)).toEqual(['released', 'opening', 'open']);
});

test('can be released while it waits for its port, and again while it is released', async () => {
  const listener = startOn();
  await until('it waits', () => listener.phases.includes('waiting'));
  await source?.release?.(60_000);
  await source?.release?.(90_000);
  expect(listener.statuses.slice(-2).map(({ untilMs }) => untilMs)).toEqual([60_000, 90_000]);
  await cable.plugIn();
  source?.resume?.();
  await sendUntilRead(listener, 'd=1.752');
});

test('ignores a request to resume a connection that is not released', async () => {
  await cable.plugIn();
  const listener = startOn();
  await sendUntilRead(listener, 'd=1.752');
  source?.resume?.();
  await sendUntilRead(listener, 'd=1.753');
  expect(listener.count('opened')).toBe(1);
});

test('can be stopped while it is released', async () => {
  await cable.plugIn();
  const listener = startOn();
  await sendUntilRead(listener, 'd=1.752');
  await source?.release?.(60_000);
  await source?.stop();
  expect(listener.phases.at(-1)).toBe('closed');
});

test('tries other baud rates without opening the port again', async () => {
  await cable.plugIn();
  const listener = startOn();
  await sendUntilRead(listener, 'd=1.752');
  // A pseudo-terminal has no rate: what comes through it fits the first one that is tried.
  const timer = setInterval(() => cable.send('d=1.75 t1=198.4\n'), 5);
  const tried: number[] = [];
  const found = await source?.findRate?.((baud) => tried.push(baud));
  expect([found, tried]).toEqual([9600, [9600]]);
  await sendUntilRead(listener, 'd=1.753');
  clearInterval(timer);
  expect(listener.count('opened')).toBe(1);
});

test('finds a board that was plugged in under another name by its stable link', async () => {
  const byId = join(folder, 'serial/by-id');
  mkdirSync(byId, { recursive: true });
  const stable = join(byId, `usb-Bench_Board_00A${number}-if00`);
  const other = new PtyCable(join(folder, `other${number}`));
  await cable.plugIn();
  symlinkSync(cable.link, stable);
  const listener = startOn(stable);
  await sendUntilRead(listener, 'n=1');
  await cable.unplug();
  rmSync(stable);
  await until('it is noticed', () => listener.phases.includes('waiting'));
  await other.plugIn();
  symlinkSync(other.link, stable);
  try {
    const timer = setInterval(() => other.send('n=2\n'), 20);
    await until('the other name is read', () => listener.text.includes('n=2'));
    clearInterval(timer);
  } finally {
    await source?.stop();
    await other.unplug();
  }
});
