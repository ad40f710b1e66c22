import { execFileSync } from 'node:child_process';
import { rmSync } from 'node:fs';
import { open } from 'node:fs/promises';
import { join } from 'node:path';
import { createSimulation } from '../../simulator/index.ts';
import { newDataFolder, until } from '../service/running-service.ts';
import type { BenchRow } from './report.ts';
import { pause, startWatched, type WatchedService } from './watched-service.ts';

const HOURS = 24;
const RATE_HZ = 50;
const RSS_MAX_MB = 120;
/** More than this in a day would be a leak. */
const SLOPE_MAX_MB_PER_DAY = 5;
/** Start and slope are measured from here on: before that, code is being compiled and caches fill. */
const SETTLED_AFTER_MIN = 120;

/**
 * A simulated day at 50 readings/s as fast as the built service takes it: the simulator in this process, a pipe between
 * them, and a look at the service's memory every simulated minute.
 */
export async function benchFlat(): Promise<BenchRow[]> {
  const dataFolder = newDataFolder();
  const pipe = join(dataFolder, 'board');
  execFileSync('mkfifo', [pipe]);
  let service: WatchedService | null = null;
  try {
    service = await startWatched({ source: `file:${pipe}?pace=max`, dataFolder, args: ['--log', 'warn'] });
    const watched = service;
    const rss: number[] = [];
    const heap: number[] = [];
    const began = performance.now();
    const cpuBefore = watched.cpuS();
    const simulation = createSimulation({ scenario: 'evening', seed: 11, rateHz: RATE_HZ });
    const cable = await open(pipe, 'w');
    try {
      for (let minute = 1; minute <= HOURS * 60; minute++) {
        await cable.writeFile(minuteOfLines(simulation));
        rss.push(watched.rssMb());
        if (minute % 60 === 0) heap.push((await watched.inside()).heapUsed / 1e6);
      }
      const sent = HOURS * 3600 * RATE_HZ;
      const state = () => watched.get<{ link: { readings: number } }>('/api/state');
      await until(state, ({ link }) => link.readings >= 0.99 * sent, 'all readings', 60_000);
    } finally {
      await cable.close();
    }
    const seconds = (performance.now() - began) / 1000;
    const cpuS = watched.cpuS() - cpuBefore;
    await pause(0);
    const settled = rss.slice(SETTLED_AFTER_MIN);
    const slope = slopeOf(settled) * 60 * 24;
    const most = Math.max(...rss);
    return [
      { what: `resident memory ${SETTLED_AFTER_MIN / 60} simulated hours in`, value: settled[0]!, unit: 'MB' },
      { what: `after ${HOURS} simulated hours at ${RATE_HZ} readings/s`, value: rss.at(-1)!, unit: 'MB' },
      {
        what: 'slope between the two',
        value: slope,
        unit: 'MB/day',
        target: `≤ ${SLOPE_MAX_MB_PER_DAY}`,
        met: slope <= SLOPE_MAX_MB_PER_DAY,
      },
      { what: 'most', value: most, unit: 'MB', target: `≤ ${RSS_MAX_MB}`, met: most <= RSS_MAX_MB },
      { what: 'heap used, hour 2', value: heap[1]!, unit: 'MB' },
      { what: `heap used, hour ${HOURS}`, value: heap.at(-1)!, unit: 'MB' },
      { what: 'taken by the whole service', value: (HOURS * 3600 * RATE_HZ) / seconds, unit: 'readings/s' },
      { what: 'the same, by its own processor time', value: (HOURS * 3600 * RATE_HZ) / cpuS, unit: 'readings/CPU s' },
    ];
  } finally {
    await service?.remove();
    rmSync(dataFolder, { recursive: true, force: true });
  }
}

function minuteOfLines(simulation: { step(): string }): Buffer {
  let lines = '';
  for (let i = 0; i < 60 * RATE_HZ; i++) lines += simulation.step();
  return Buffer.from(lines, 'latin1');
}

/** Least squares, a step. */
function slopeOf(values: readonly number[]): number {
  const mean = values.reduce((a, b) => a + b, 0) / values.length;
  const middle = (values.length - 1) / 2;
  let cross = 0;
  let square = 0;
  for (const [i, value] of values.entries()) {
    cross += (i - middle) * (value - mean);
    square += (i - middle) ** 2;
  }
  return cross / square;
}
