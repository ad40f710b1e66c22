/** Downloads that are given up midway, from the built service: no thread, no open file, no file on the way is left. */

import { readdirSync, readlinkSync, rmSync } from 'node:fs';

import { afterEach, expect, test, vi } from 'vitest';
import { openStore } from '../../server/store/index.ts';
import { randomOf } from '../store/readings.ts';
import { newDataFolder, type RunningService, startService } from './running-service.ts';

vi.setConfig({ testTimeout: 120_000, hookTimeout: 120_000 });

const dataFolder = newDataFolder();
let service: RunningService | null = null;
afterEach(async () => {
  await service?.remove();
  rmSync(dataFolder, { recursive: true, force: true });
});

const READINGS = 150_000;

/** An ended run whose readings do not pack, so that its files are larger than what sockets hold. */
async function recordedRun(): Promise<void> {
  const store = openStore({ folder: dataFolder });
  const { id } = store.writer.beginRun({ startedMs: 1_750_000_000_000, timeZone: 'UTC', sourceTitle: 'noise' });
  const random = randomOf(9);
  const signals = ['d', 'a', 'b', 'c'].map((name) => ({ name, role: null, unit: '' }));
  const none = { diameter: 0, diameterX: -1, diameterY: -1, speed: -1, lengthCounter: -1, screwSpeed: -1, turns: -1 };
  const layout = { signals, ...none, zones: [] };
  for (let i = 0; i < READINGS; i++) {
    const values = [1.75, random(), random(), random()];
    store.samples.append(
      id,
      { timeMs: 1_750_000_000_000 + i * 20, layout, values, lostBefore: 0, restarted: false },
      i,
    );
    if (i % 50_000 === 0) store.samples.flush();
  }
  store.samples.flush();
  store.writer.endRun(id, 1_750_000_000_000 + READINGS * 20);
  await store.close();
}

test.skipIf(process.platform !== 'linux')('a download that is given up leaves nothing behind', async () => {
  await recordedRun();
  service = await startService({ source: 'simulator:evening', dataFolder });
  const { pid } = service.process;
  const threads = () => readdirSync(`/proc/${pid}/task`).length;
  const exported = () =>
    readdirSync(`/proc/${pid}/fd`)
      .map((fd) => {
        try {
          return readlinkSync(`/proc/${pid}/fd/${fd}`);
        } catch {
          return '';
        }
      })
      .filter((path) => path.includes('under-way')).length;
  const underWay = () => readdirSync(dataFolder).filter((name) => name.startsWith('under-way')).length;
  // A whole one first: threads that stay, such as those that read, are there afterwards.
  const whole = await fetch(`${service.address}/api/runs/1/export?format=csv`);
  expect((await whole.text()).split('\r\n').length).toBe(READINGS + 2);
  await service.get('/api/runs/1/window?axis=length&from=0&to=100&columns=10&signals=d');
  await expect.poll(threads, { timeout: 30_000 }).toBeLessThan(100);
  let settled = threads();
  await expect
    .poll(
      () => {
        const now = threads();
        const same = now === settled;
        settled = now;
        return same;
      },
      { timeout: 30_000, interval: 1000 },
    )
    .toBe(true);
  for (const path of ['export?format=csv', 'export?format=jsonl', 'export?format=parquet', 'archive']) {
    for (let k = 0; k < 2; k++) {
      const stop = new AbortController();
      const reply = await fetch(`${service.address}/api/runs/1/${path}`, { signal: stop.signal });
      expect(reply.status).toBe(200);
      await reply.body!.getReader().read();
      stop.abort();
      await expect.poll(() => [exported(), underWay()], { timeout: 60_000 }).toStrictEqual([0, 0]);
    }
  }
  await expect.poll(threads, { timeout: 60_000 }).toBeLessThanOrEqual(settled);
  const again = await fetch(`${service.address}/api/runs/1/export?format=parquet`);
  expect(
    Buffer.from(await again.arrayBuffer())
      .subarray(0, 4)
      .toString(),
  ).toBe('PAR1');
});
