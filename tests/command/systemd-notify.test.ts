import { afterEach, expect, it, vi } from 'vitest';
import { reportToSystemd } from '../../server/command/systemd-notify.ts';

afterEach(() => {
  vi.unstubAllEnvs();
});

it('survives that the system cannot start a process, and says so once', async () => {
  // Longer than a word of an environment may be (execve(2), MAX_ARG_STRLEN): like a lack of memory, an error that Node throws at once.
  vi.stubEnv('TOO_LONG', 'x'.repeat(200_000));
  const warn = vi.fn();
  expect(reportToSystemd({ NOTIFY_SOCKET: '/nowhere', WATCHDOG_USEC: '30000' }, warn)).toBe(true);
  await new Promise((resolve) => setTimeout(resolve, 100));
  expect(warn.mock.calls).toStrictEqual([
    ['systemd-notify failed', { message: '--ready', why: expect.stringContaining('E2BIG') }],
  ]);
});
