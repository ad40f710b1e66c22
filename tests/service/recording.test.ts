/** The built service imports recorded logs as runs: while it watches a line, and as a command. */

import { readdirSync, rmSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { afterEach, expect, test, vi } from 'vitest';
import type { RunDetail, RunView } from '../../server/api/contract/runs-and-spools.ts';
import type { RecordingState } from '../../server/monitor/recording-service.ts';
import { recordedLines } from '../bench/recorded-lines.ts';
import { newDataFolder, type RunningService, runToEnd, startService, until } from './running-service.ts';

vi.setConfig({ testTimeout: 180_000, hookTimeout: 120_000 });

const folders: string[] = [];
let service: RunningService | null = null;
afterEach(async () => {
  await service?.remove();
  service = null;
  for (const one of folders.splice(0)) rmSync(one, { recursive: true, force: true });
});

function folder(): string {
  const made = newDataFolder();
  folders.push(made);
  return made;
}

const underWay = (data: string) => readdirSync(data).filter((name) => name.startsWith('under-way'));

async function give(bytes: Uint8Array): Promise<RecordingState> {
  const response = await fetch(`${service!.address}/api/recording?name=night.log`, {
    method: 'POST',
    headers: { 'content-type': 'text/plain' },
    body: bytes as BodyInit,
  });
  expect(response.status).toBe(201);
  return (await response.json()) as RecordingState;
}

test('imports an uploaded log on a separate thread while the line is watched, and can be stopped', async () => {
  const dataFolder = folder();
  service = await startService({ source: 'simulator:evening', dataFolder });
  const bytes = recordedLines(50_000);
  const startMs = Date.UTC(2021, 0, 1);
  await give(bytes);
  await service.send('POST', '/api/recording/start', { startMs });
  await until(
    () => service!.get<RecordingState>('/api/recording'),
    ({ progress }) => progress.readings > 0,
    'it is under way',
    60_000,
  );
  expect((await service.send('DELETE', '/api/recording')).status).toBe(204);
  expect(underWay(dataFolder)).toStrictEqual([]);
  await give(bytes.subarray(0, bytes.lastIndexOf(10, bytes.length / 3) + 1));
  await service.send('POST', '/api/recording/start', { startMs });
  const done = await until(
    () => service!.get<RecordingState>('/api/recording'),
    ({ phase }) => phase === 'done' || phase === 'failed',
    'it is done',
    90_000,
  );
  expect(done.problem).toBe(null);
  const { run, extent } = await service.get<RunDetail>(`/api/runs/${done.runs[0]}`);
  expect(run.sourceTitle).toBe('recorded log night.log');
  expect(extent!.fromMs - startMs).toBeLessThan(600_000);
  expect(underWay(dataFolder)).toStrictEqual([]);
  const state = await service.get<{ link: { phase: string; linesLost: number } }>('/api/state');
  expect(state.link.phase).toBe('open');
});

test('the command imports a log while the service is stopped, and refuses a file that is not a log', async () => {
  const dataFolder = folder();
  const logs = folder();
  const log = join(logs, 'night.log');
  writeFileSync(log, recordedLines(6000));
  // A zone that the engine does not know.
  const env = { TZ: 'Europe/Berln' };
  const ended = await runToEnd(['import', log, '--data', dataFolder, '--started', '2031-01-01T20:00'], env);
  expect(ended).toMatchObject({ exitCode: 0, printed: `Imported ${log} as run 1.\n` });
  expect(readdirSync(logs)).toStrictEqual(['night.log']);
  writeFileSync(join(logs, 'cat.jpg'), Buffer.from('ffd8ffe000104a464946', 'hex'));
  writeFileSync(join(logs, 'bare.log'), 'd,t1\n1.75,200\n1.75,200\n1.75,200\n1.75,200\n');
  const refused = async (...args: string[]) => {
    const { exitCode, complained } = await runToEnd(['import', '--data', dataFolder, ...args]);
    return [exitCode, complained.split('\n')[0]];
  };
  expect(await refused(join(logs, 'cat.jpg'))).toStrictEqual([
    2,
    'strandward: cat.jpg could not be imported. It is a photo (JPEG).',
  ]);
  expect(await refused(join(logs, 'none.log'))).toStrictEqual([2, expect.stringMatching(/cannot be read/)]);
  expect(await refused(join(logs, 'bare.log'))).toStrictEqual([2, expect.stringMatching(/have no times/)]);
  expect(await refused(log, '--started', 'yesterday')).toStrictEqual([
    2,
    'strandward: “yesterday” is not a date and time.',
  ]);
  expect(underWay(dataFolder)).toStrictEqual([]);
  service = await startService({ source: 'simulator:evening', dataFolder });
  const run = (await service.get<RunView[]>('/api/runs')).find(({ id }) => id === 1)!;
  expect(new Date(run.startedMs).toISOString()).toMatch(/^2031-01-01T20:/);
  expect(run.timeZone).toBe('UTC');
  const inUse = await refused(log);
  expect(inUse).toStrictEqual([4, expect.stringMatching(/already in use/)]);
});
