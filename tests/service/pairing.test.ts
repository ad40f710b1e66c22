/** `strandward pair`, and the link of the first start. */
import { existsSync, statSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { afterEach, describe, expect, test, vi } from 'vitest';
import { invitationText } from '../../server/command/invitation-text.ts';
import { casesOf, IS_LONG_CHECK } from '../long-check.ts';
import { newDataFolder, type RunningService, runToEnd, startService, until } from './running-service.ts';

vi.setConfig({ testTimeout: 90_000, hookTimeout: 120_000 });

let service: RunningService | null = null;
afterEach(async () => {
  await service?.remove();
  service = null;
});

const codeIn = (text: string) => /\/pair#([\w-]{22})\n/.exec(text)?.[1];
const pairWith = (code: string | undefined, name: string) =>
  service!.send('POST', '/api/devices', { name, code: code ?? 'none' });

describe('strandward pair', () => {
  test('shows a link that pairs one device, through a socket for its user only', async () => {
    const dataFolder = newDataFolder();
    const socket = join(dataFolder, 'pairing.sock');
    // Left behind by a service that was killed.
    writeFileSync(socket, '');
    service = await startService({ source: 'simulator:steady', dataFolder });
    expect(statSync(socket).isSocket()).toBe(true);
    expect(statSync(socket).mode & 0o777).toBe(0o600);
    const asked = ['pair', '--data', dataFolder, '--right', 'act', '--address', 'http://bench.example:8750/'];
    const { exitCode, printed, complained } = await runToEnd(asked);
    expect([exitCode, complained]).toEqual([0, '']);
    expect(printed).toMatch(/right to act.*within 10 minutes.*once/);
    expect(printed).toContain('  http://bench.example:8750/pair#');
    expect(await pairWith(codeIn(printed), 'phone')).toMatchObject({ status: 201, body: { right: 'act' } });
    expect((await pairWith(codeIn(printed), 'another')).status).toBe(401);
    await service.stop();
    expect(existsSync(socket)).toBe(false);
  });

  test('without a running service: one plain sentence, exit code 1', async () => {
    const { exitCode, printed, complained } = await runToEnd(['pair', '--data', '/nonexistent/x']);
    expect(exitCode).toBe(1);
    expect(printed).toBe('');
    expect(complained).toBe(
      'strandward: No Strandward is running on the data folder /nonexistent/x.\nStart it first, or name its data folder with --data.\n',
    );
  });

  test.each([
    ['--right', 'own'],
    ['--address', 'bench'],
  ])('refuses %s %s: exit code 2', async (...args) => {
    const { exitCode, complained } = await runToEnd(['pair', ...args]);
    expect(exitCode).toBe(2);
    expect(complained).toContain(args[0]);
  });
});

describe('the first start beyond this machine', () => {
  test.skipIf(!IS_LONG_CHECK)('shows a link until a device is paired', async () => {
    const dataFolder = newDataFolder();
    const options = { source: 'simulator:steady', dataFolder, args: ['--host', '0.0.0.0'] };
    service = await startService(options);
    const { output } = service;
    const printed = await until(output, (text) => codeIn(text) !== undefined, 'the link');
    expect(await pairWith(codeIn(printed), 'desk')).toMatchObject({ status: 201, body: { right: 'manage' } });
    await service.stop();
    service = await startService(options);
    await service.stop();
    expect(codeIn(service.output())).toBeUndefined();
  });

  test.each(
    casesOf(
      [
        [
          'with an access key',
          { args: ['--host', '0.0.0.0'], env: { STRANDWARD_ACCESS_KEY: 'twelve-or-more-letters' } },
        ],
        ['on this machine only', {}],
      ],
      1,
    ),
  )('shows none %s', async (_what, options) => {
    service = await startService({ source: 'simulator:steady', ...options });
    await service.stop();
    expect(codeIn(service.output())).toBeUndefined();
  });
});

test('a QR code is black on white, two rows of modules a line', () => {
  const shown = {
    code: 'x'.repeat(22),
    right: 'act',
    validMs: 600_000,
    addresses: ['http://10.0.0.2:8750'],
    isForThisMachine: false,
  };
  const own = { ...shown, certificatePage: null, ownAddress: 'http://127.0.0.1:8750' };
  const inkOnPaper = '\x1b[38;5;16;48;5;231m';
  const lines = invitationText(own, null, true)
    .split('\n')
    .filter((line) => line.includes('\x1b'));
  const modules = (lines[0] ?? '').slice(inkOnPaper.length, -'\x1b[0m'.length).length;
  expect(lines).toHaveLength(Math.ceil(modules / 2));
  expect(lines.every((line) => line.startsWith(inkOnPaper))).toBe(true);
  // A phone reaches none of the addresses of a service that listens on its own machine only.
  const alone = invitationText({ ...own, addresses: [], isForThisMachine: true }, null, true);
  expect(alone).not.toContain('\x1b');
  expect(alone).toMatch(/127\.0\.0\.1:8750\/pair#.*--host/s);
  // A cable that is not plugged in yet.
  const offline = invitationText({ ...own, addresses: [] }, null, true);
  expect(offline).toMatch(/no network address now/);
  expect(offline).not.toContain('--host');
});
