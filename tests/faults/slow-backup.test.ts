/** A backup to a stick that takes its time, or to a drive that hangs during it, must not hold up the line. */
import { setTimeout as pause } from 'node:timers/promises';
import { fileURLToPath } from 'node:url';
import { afterEach, expect, test, vi } from 'vitest';
import { readMarker } from '../../server/store/marker.ts';
import { type RunningService, startService, until } from '../service/running-service.ts';

vi.setConfig({ testTimeout: 60_000 });

const PRELOAD = fileURLToPath(new URL('./slow-backup-preload.mjs', import.meta.url));

let service: RunningService | undefined;
afterEach(() => service?.remove());

const startHeldUp = (seconds: number) =>
  startService({
    source: 'simulator:steady',
    env: { NODE_OPTIONS: `--import=${PRELOAD}`, HELD_UP_S: `${seconds}` },
  });

test('the line is watched while a backup takes seconds', async () => {
  service = await startHeldUp(4);
  let isMade = false;
  const startMs = performance.now();
  const made = service.send('POST', '/api/record/backup').finally(() => {
    isMade = true;
  });
  let longestMs = 0;
  while (!isMade) {
    const askedMs = performance.now();
    await service.get('/api/state');
    longestMs = Math.max(longestMs, performance.now() - askedMs);
    await pause(50);
  }
  expect((await made).status).toBe(200);
  expect(performance.now() - startMs).toBeGreaterThan(4000);
  expect(longestMs).toBeLessThan(2000);
});

test('a stop does not wait for a backup that hangs, and closes the record', async () => {
  service = await startHeldUp(30);
  service.send('POST', '/api/record/backup').catch(() => {});
  await until(
    () => service!.get<{ busy: string | null }>('/api/record'),
    ({ busy }) => busy === 'backup',
    'the backup',
  );
  const startMs = performance.now();
  await service.stop();
  expect(performance.now() - startMs).toBeLessThan(10_000);
  expect(readMarker(service.dataFolder)?.state).toMatchObject({ inUse: false });
});
