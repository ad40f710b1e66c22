/** A service that systemd started reports that it is ready, then again and again that it is alive. */
import { spawn, spawnSync } from 'node:child_process';
import { existsSync, mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { expect, test, vi } from 'vitest';
import { reportToSystemd } from '../../server/command/systemd-notify.ts';
import { IS_LONG_CHECK } from '../long-check.ts';
import { startService, until } from './running-service.ts';

vi.setConfig({ testTimeout: 90_000 });

const HAS_NOTIFY = spawnSync('systemd-notify', ['--version']).status === 0;
if (!HAS_NOTIFY)
  process.stderr.write('Skipped: systemd-notify is not installed, so nothing can be reported to systemd.\n');

test.skipIf(!HAS_NOTIFY)('reports ready once, then alive, but not while it is blocked', async () => {
  const folder = mkdtempSync(join(tmpdir(), 'strandward-notify-'));
  const socket = join(folder, 'notify');
  // Takes the place of systemd: Node has no Unix datagram sockets.
  const receiver = spawn('socat', ['-u', `UNIX-RECV:${socket}`, 'STDOUT']);
  let received = '';
  receiver.stdout.on('data', (chunk: Buffer) => {
    received += chunk.toString();
  });
  const count = (message: string) => received.split(message).length - 1;
  await until(() => existsSync(socket), Boolean, 'socat listens');
  const env = { NOTIFY_SOCKET: socket, WATCHDOG_USEC: '1500000' };
  const service = await startService({ source: 'simulator:steady', env });
  try {
    await until(
      () => count('WATCHDOG=1'),
      (pings) => pings >= 2,
      'two signs of life',
    );
    expect(count('READY=1')).toBe(1);
    service.process.kill('SIGSTOP');
    // What was being sent may still arrive; from then on nothing more does.
    let before = -1;
    await until(
      async () => {
        const more = count('WATCHDOG=1') - before;
        before += more;
        await new Promise((resolve) => setTimeout(resolve, 1500));
        return more;
      },
      (more) => more === 0,
      'silence',
    );
    service.process.kill('SIGCONT');
    await until(
      () => count('WATCHDOG=1'),
      (pings) => pings > before,
      'a sign of life after it',
    );
  } finally {
    service.process.kill('SIGCONT');
    await service.remove();
    receiver.kill();
    rmSync(folder, { recursive: true });
  }
  expect(service.output()).not.toMatch(/systemd-notify/);
});

test('tells whether systemd ends a blocked process, so that no thread of the service has to', () => {
  const isWatched = (env: Record<string, string>) => reportToSystemd(env, () => {});
  expect(isWatched({ WATCHDOG_USEC: '60000000' })).toBe(false);
  expect(isWatched({ NOTIFY_SOCKET: '/nonexistent/notify' })).toBe(false);
  expect(isWatched({ NOTIFY_SOCKET: '/nonexistent/notify', WATCHDOG_USEC: '60000000' })).toBe(true);
});

test.skipIf(!IS_LONG_CHECK)('goes on without systemd-notify, and says so once', async () => {
  const env = { NOTIFY_SOCKET: '/nonexistent/notify', WATCHDOG_USEC: '300000', PATH: '/nonexistent' };
  const service = await startService({ source: 'simulator:steady', env });
  await until(
    () => service.output(),
    (text) => /systemd-notify failed/.test(text),
    'the warning',
  );
  await until(
    () => service.get<{ link: { silentForS: number | null } }>('/api/state'),
    ({ link }) => link.silentForS !== null,
    'readings',
  );
  await service.remove();
  expect(service.output().match(/systemd-notify failed/g)).toHaveLength(1);
});
