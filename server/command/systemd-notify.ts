import { execFile } from 'node:child_process';
import { messageOf } from '../problem/problem.ts';
import type { Environment } from './arguments.ts';

/** A third of the limit, so that one late or lost message does no harm. */
const PINGS_PER_LIMIT = 3;
const NOTIFY_WITHIN_MS = 10_000;

/**
 * Reports to systemd, if it started the service, that the line is watched and from then on that the process is alive. It runs
 * `systemd-notify`, because Node cannot send on a Unix datagram socket. A blocked process sends nothing, so systemd ends it.
 * @returns whether it does: the unit may set no limit
 */
export function reportToSystemd(env: Environment, warn: (message: string, facts: object) => void): boolean {
  if (!env.NOTIFY_SOCKET) return false;
  let hasFailed = false;
  const notify = (message: string) => {
    const ended = (thrown: unknown) => {
      if (thrown !== null && !hasFailed) warn('systemd-notify failed', { message, why: messageOf(thrown) });
      hasFailed = thrown !== null;
    };
    try {
      execFile('systemd-notify', [message], { timeout: NOTIFY_WITHIN_MS }, ended);
    } catch (thrown) {
      // Node throws some errors at once, such as a lack of memory.
      ended(thrown);
    }
  };
  notify('--ready');
  const limitMs = Number(env.WATCHDOG_USEC ?? 0) / 1000;
  if (!(limitMs > 0)) return false;
  setInterval(() => notify('WATCHDOG=1'), limitMs / PINGS_PER_LIMIT).unref();
  return true;
}
