/** The log cannot be written: its file is on a full disk, whoever reads it has ended or hangs, or the terminal is closed. */
import { spawn } from 'node:child_process';
import { once } from 'node:events';
import { rmSync } from 'node:fs';
import { type AddressInfo, createServer } from 'node:net';
import { expect, test, vi } from 'vitest';
import { newDataFolder, PROGRAM, startedWith, startService, until } from '../service/running-service.ts';

vi.setConfig({ testTimeout: 60_000 });

const IS_LINUX = process.platform === 'linux';

async function freePort(): Promise<number> {
  const server = createServer().listen(0, '127.0.0.1');
  await once(server, 'listening');
  const { port } = server.address() as AddressInfo;
  server.close();
  return port;
}

// full(4): every write fails with ENOSPC. `head` ends after the first line, so the next write fails with EPIPE. pipe(7): 64 KiB
// fill a pipe, and `sleep` reads nothing.
test.skipIf(!IS_LINUX).each([
  ['', '> /dev/full'],
  ['', '| head -n 1'],
  ['head -c 65536 /dev/zero;', '| sleep 50'],
])('the line is still watched: %s … %s', async (before, output) => {
  const data = newDataFolder();
  const port = await freePort();
  const words = [process.execPath, ...startedWith().nodeOptions, PROGRAM, '--port', port, '--data', data];
  const command = `{ ${before} "${[...words, '--source', 'simulator:steady', '--examples', 'off'].join('" "')}"; } ${output}`;
  const shell = spawn('sh', ['-c', command], { stdio: 'ignore', detached: true });
  try {
    const ask = (path: string, method = 'GET') =>
      fetch(`http://127.0.0.1:${port}${path}`, { method }).then(
        ({ status }) => status,
        () => 0,
      );
    await until(
      () => ask('/ready'),
      (status) => status === 200,
      'readings',
    );
    // It logs an entry.
    expect(await ask('/api/heat/forget', 'POST')).toBe(200);
    expect(await ask('/ready')).toBe(200);
  } finally {
    process.kill(-shell.pid!, 'SIGKILL');
    await once(shell, 'close').catch(() => {});
    rmSync(data, { recursive: true, force: true });
  }
});

test('a terminal that is closed stops the service in order', async () => {
  const service = await startService({ source: 'simulator:steady' });
  try {
    expect(await service.stop('SIGHUP')).toBe(0);
    expect(service.output()).toMatch(/Stopping: the terminal was closed/);
  } finally {
    await service.remove();
  }
});
