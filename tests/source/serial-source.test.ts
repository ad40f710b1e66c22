/** The serial source with the real binding on pseudo-terminals. */
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';
import { SerialPort } from 'serialport';
import { afterAll, afterEach, beforeEach, describe, expect, test } from 'vitest';
import { serialSource, serialText } from '../../server/source/serial-source.ts';
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

test('releases the port, so that another program can open it, and opens it again when told', async () => {
  await cable.plugIn();
  const listener = startOn();
  await sendUntilRead(listener, 'd=1.752');
  source?.release?.(60_000);
  await until('it is released', () => listener.phases.at(-1) === 'released');
  expect(listener.statusText).toMatch(/Released .* for other programs\. It is opened again in 60 s at the latest\./);
  const other = new SerialPort({ path: cable.link, baudRate: 57_600, autoOpen: false });
  await new Promise<void>((resolve, reject) => other.open((error) => (error ? reject(error) : resolve())));
  await new Promise<void>((resolve) => other.close(() => resolve()));
  source?.release?.(0);
  await sendUntilRead(listener, 'd=1.753');
});

test('opens a released port again automatically', async () => {
  await cable.plugIn();
  const listener = startOn();
  await sendUntilRead(listener, 'd=1.752');
  source?.release?.(200);
  await until('it is released', () => listener.phases.includes('released'));
  await sendUntilRead(listener, 'd=1.753');
  expect(listener.phases.at(-1)).toBe('open');
});
