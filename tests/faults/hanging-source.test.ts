/** A driver or a network drive that hangs when its source is to be closed. */
import { afterEach, expect, it, vi } from 'vitest';
import type { Connector } from '../../server/source/connection.ts';
import { ReconnectingSource } from '../../server/source/reconnecting-source.ts';
import { startTestService, type TestService } from '../api/test-service.ts';

let service: TestService | null = null;
afterEach(async () => {
  vi.useRealTimers();
  await service?.stop();
  service = null;
});

/** Its connection opens, and never closes. */
function hangingSource(): ReconnectingSource {
  const connector: Connector = {
    title: 'serial port /dev/hung',
    place: '/dev/hung',
    silence: 'nothing arrived',
    open: async () => ({
      lost: new Promise(() => {}),
      listen: () => {},
      close: () => new Promise(() => {}),
    }),
  };
  return new ReconnectingSource(connector, () => performance.now(), { silenceMs: 60_000 });
}

it('is given up after five seconds, and the log says which one and why', async () => {
  service = await startTestService(hangingSource());
  const { monitor } = service;
  monitor.start();
  await expect.poll(() => monitor.snapshot().link.status.phase).toBe('open');
  const log = async () => JSON.stringify((await service!.send('GET', '/api/log')).body);
  vi.useFakeTimers({ toFake: ['setTimeout', 'clearTimeout'] });
  const stopped = monitor.stop();
  await vi.advanceTimersByTimeAsync(5000);
  await stopped;
  vi.useRealTimers();
  expect(await log()).toContain('The serial port /dev/hung did not stop. It was given up');
});

it('that does not even open is reported by /ready', async () => {
  vi.useFakeTimers({ toFake: ['setTimeout', 'clearTimeout'] });
  const connector: Connector = {
    title: 'serial port /dev/hung',
    place: '/dev/hung',
    silence: 'nothing arrived',
    open: () => new Promise(() => {}),
  };
  service = await startTestService(new ReconnectingSource(connector, () => performance.now(), { silenceMs: 60_000 }));
  service.monitor.start();
  await vi.advanceTimersByTimeAsync(15_000);
  vi.useRealTimers();
  const ready = await service.send('GET', '/ready');
  expect(ready).toMatchObject({
    status: 503,
    body: { title: expect.stringMatching(/hung: it did not answer within 15 s/) },
  });
});
