import { type ChildProcess, spawn } from 'node:child_process';
import { rmSync } from 'node:fs';
import WebSocket from 'ws';
import { newDataFolder, PROGRAM, until } from '../service/running-service.ts';
import type { BenchRow } from './report.ts';
import { pause, startWatched, type WatchedService } from './watched-service.ts';

const WATCHED_S = 60;
const SHARE_MAX_PERCENT = 3;
const RSS_MAX_MB = 120;

/** What the service costs while it winds at 50 Hz, the simulated board in another process: without and with an open page. */
export async function benchSteady(): Promise<BenchRow[]> {
  const dataFolder = newDataFolder();
  const board = await startBoard();
  let service: WatchedService | null = null;
  let socket: WebSocket | null = null;
  try {
    service = await startWatched({ source: board.source, dataFolder, args: ['--log', 'warn'] });
    const watched = service;
    const state = () => watched.get<{ stage: { stage: string } }>('/api/state');
    await until(state, ({ stage }) => stage.stage === 'winding', 'winding', 120_000);
    // What runs often is compiled in the first half minute.
    await pause(30_000);
    const alone = await watch(watched);
    socket = new WebSocket(`${watched.address.replace('http', 'ws')}/live`);
    await new Promise((resolve, reject) => socket!.once('open', resolve).once('error', reject));
    socket.on('message', () => {});
    const withPage = await watch(watched);
    return [...rows('50 readings/s, no page open', alone), ...rows('50 readings/s, one page open', withPage)];
  } finally {
    socket?.terminate();
    await service?.remove();
    board.child.kill('SIGTERM');
    rmSync(dataFolder, { recursive: true, force: true });
  }
}

interface Cost {
  readonly sharePercent: number;
  readonly rssMb: number;
  readonly loopDelayP99Ms: number;
}

async function watch(service: WatchedService): Promise<Cost> {
  const cpuBefore = service.cpuS();
  const began = performance.now();
  await pause(WATCHED_S * 1000);
  const sharePercent = (100 * (service.cpuS() - cpuBefore)) / ((performance.now() - began) / 1000);
  const rssMb = service.rssMb();
  // Watching the loop costs something itself, so it comes after.
  await service.inside();
  await pause(20_000);
  const { loopDelayP99Ms } = await service.inside();
  return { sharePercent, rssMb, loopDelayP99Ms };
}

function rows(what: string, { sharePercent, rssMb, loopDelayP99Ms }: Cost): BenchRow[] {
  return [
    {
      what: `${what}: share of one core`,
      value: sharePercent,
      unit: '%',
      target: `≤ ${SHARE_MAX_PERCENT}`,
      met: sharePercent <= SHARE_MAX_PERCENT,
    },
    {
      what: `${what}: resident memory`,
      value: rssMb,
      unit: 'MB',
      target: `≤ ${RSS_MAX_MB}`,
      met: rssMb <= RSS_MAX_MB,
    },
    { what: `${what}: event loop late, p99`, value: loopDelayP99Ms, unit: 'ms' },
  ];
}

/** The simulator as a command, as a network board. */
async function startBoard(): Promise<{ child: ChildProcess; source: string }> {
  const child = spawn(process.execPath, [PROGRAM, 'simulate', '--scenario', 'evening', '--to', 'tcp:0'], {
    stdio: ['ignore', 'pipe', 'pipe'],
  });
  let output = '';
  const port = await new Promise<string>((resolve, reject) => {
    const hear = (chunk: Buffer) => {
      output += chunk;
      const found = /127\.0\.0\.1:(\d+)/.exec(output)?.[1];
      if (found !== undefined) resolve(found);
    };
    child.stdout.on('data', hear);
    child.stderr.on('data', hear);
    child.once('close', () => reject(new Error(`The simulator ended:\n${output}`)));
  });
  return { child, source: `tcp:127.0.0.1:${port}` };
}
