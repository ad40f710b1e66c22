/** The serial source with the real binding, on pseudo-terminals. */
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';
import { SerialPort } from 'serialport';
import { afterAll, afterEach, beforeEach, describe, expect, test } from 'vitest';
import { serialText } from '../../server/source/serial-errors.ts';
import { serialSource } from '../../server/source/serial-source.ts';
import type { Source } from '../../server/source/source.ts';
import { Hearer, until } from './hearer.ts';
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
  await cable.pullOut();
});

afterAll(() => rmSync(folder, { recursive: true }));

function hear(path = cable.link, silenceMs = 1000): Hearer {
  const hearer = new Hearer();
  source = serialSource({ path, baud: 115_200, silenceMs }, () => 0);
  source.start(hearer);
  return hearer;
}

/** Send until it is heard: what is sent while the port is being opened is lost, as on a real one. */
async function talk(hearer: Hearer, line: string): Promise<void> {
  const timer = setInterval(() => cable.send(`${line}\n`), 20);
  try {
    await until(`“${line}” was heard`, () => hearer.text.includes(line));
  } finally {
    clearInterval(timer);
  }
}

test('lines come through a pseudo-terminal', async () => {
  await cable.plugIn();
  const hearer = hear();
  await talk(hearer, 'd=1.752');
  expect(hearer.statusText).toMatch(new RegExp(`Reading from ${cable.link}`));
});

test('a port that is not there is waited for, and picked up when it comes', async () => {
  const hearer = hear();
  await until('it was said', () => hearer.phases.includes('waiting'));
  expect(hearer.statusText).toMatch(
    /Cannot open .*port\d+: there is no such port; is the cable plugged in\? Trying again in 0\.25 s\./,
  );
  await cable.plugIn();
  await talk(hearer, 'd=1.752');
});

test('a busy port is said to be busy, and picked up when it is free', async () => {
  await cable.plugIn();
  const other = new SerialPort({ path: cable.link, baudRate: 115_200, autoOpen: false });
  await new Promise<void>((resolve, reject) => other.open((error) => (error === null ? resolve() : reject(error))));
  const hearer = hear();
  await until('it was said', () => hearer.phases.includes('waiting'));
  expect(hearer.statusText).toMatch(
    /it is in use by another program; close that \(a serial monitor\?\)\. Trying again/,
  );
  expect(hearer.count('opened')).toBe(0);
  await new Promise((resolve) => other.close(resolve));
  await talk(hearer, 'd=1.752');
});

test.each(['SIGKILL', 'SIGTERM'] as const)(
  'unplugged (%s) and plugged in again, it goes on by itself',
  async (signal) => {
    await cable.plugIn();
    const hearer = hear();
    await talk(hearer, 'n=1');
    await cable.pullOut(signal);
    await until('it was noticed', () => hearer.phases.includes('waiting'));
    await sleep(600);
    await cable.plugIn();
    await talk(hearer, 'n=2');
    expect(hearer.count('opened')).toBeGreaterThanOrEqual(2);
  },
);

test('a port that is silent is closed and opened again', async () => {
  await cable.plugIn();
  const hearer = hear(cable.link, 300);
  await until('it was opened three times', () => hearer.count('opened') >= 3);
  expect(hearer.statusText).toMatch(/it is open, but nothing came for 0\.3 s, so it is opened again/);
  await talk(hearer, 'd=1.752');
});

test('what is no serial port is said in words', async () => {
  const hearer = hear('/dev/null');
  await until('it was said', () => hearer.phases.includes('waiting'));
  expect(hearer.statusText).toMatch(/Cannot open \/dev\/null: it is no serial port\./);
});

describe('what the system says becomes words', () => {
  test.each([
    ['Error Resource temporarily unavailable Cannot lock port', /in use by another program/],
    ['Opening COM3: Access denied', /in use by another program/],
    ['Error: No such file or directory, cannot open /dev/ttyUSB0', /is the cable plugged in/],
    ['Opening COM9: File not found', /is the cable plugged in/],
    ['Error: Permission denied, cannot open /dev/ttyUSB0', /group dialout/],
    ['Error: Input/output error setting custom baud rate of 115200', /unplugged/],
    ['EBADF: bad file descriptor, read', /unplugged/],
    ['Error: Inappropriate ioctl for device', /no serial port/],
    ['Error: something new', /^something new$/],
  ])('%s', (message, text) => {
    expect(serialText(message)).toMatch(text);
  });
});
