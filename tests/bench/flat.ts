import { closeSync, openSync, rmSync, writeSync } from 'node:fs';
import { join } from 'node:path';
import { createSimulation } from '../../simulator/index.ts';
import { newDataFolder } from '../service/running-service.ts';
import type { BenchRow } from './report.ts';
import { pause, startWatched, type WatchedService } from './watched-service.ts';

const HOURS = 24;
const RATE_HZ = 50;
const RSS_MAX_MB = 100;
/** More than this in a day would be a leak. */
const SLOPE_MAX_MB_PER_DAY = 1;
/** Start and slope are measured from here on: before that, code is being compiled and caches fill. */
const SETTLED_AFTER_H = 2;
/** What is alive grows until then, because code that is seldom run is compiled when it first is. */
const COMPILED_AFTER_H = 8;
const LOOK_EVERY_MS = 250;

/** What was seen at a time of the simulated day. */
interface Look {
  readonly hours: number;
  readonly rssMb: number;
}

/** What was alive then: growth of this is a leak, or what a long run is remembered by. */
interface Alive {
  readonly hours: number;
  readonly mb: number;
}

async function aliveAt(service: WatchedService, hours: number): Promise<Alive> {
  return { hours, mb: (await service.inside()).alive / 1e6 };
}

/**
 * A simulated day at 50 readings/s as fast as the built service takes it, from a file of half a gigabyte, and looks at the
 * service's memory meanwhile.
 */
export async function benchFlat(): Promise<BenchRow[]> {
  const dataFolder = newDataFolder();
  const log = join(dataFolder, 'day.log');
  writeDay(log);
  let service: WatchedService | null = null;
  try {
    service = await startWatched({ source: `file:${log}?pace=max`, dataFolder, args: ['--log', 'warn'] });
    const watched = service;
    const looks: Look[] = [];
    let aliveAtFirst: Alive | null = null;
    const began = performance.now();
    const cpuBefore = watched.cpuS();
    for (let hours = 0; hours < 0.99 * HOURS; ) {
      await pause(LOOK_EVERY_MS);
      const { link } = await watched.get<{ link: { readings: number } }>('/api/state');
      hours = link.readings / RATE_HZ / 3600;
      looks.push({ hours, rssMb: watched.rssMb() });
      if (aliveAtFirst === null && hours > COMPILED_AFTER_H) aliveAtFirst = await aliveAt(watched, hours);
    }
    const aliveAtLast = await aliveAt(watched, looks.at(-1)!.hours);
    const readings = looks.at(-1)!.hours * 3600 * RATE_HZ;
    const seconds = (performance.now() - began) / 1000;
    const cpuS = watched.cpuS() - cpuBefore;
    const aliveSlope = ((aliveAtLast.mb - aliveAtFirst!.mb) / (aliveAtLast.hours - aliveAtFirst!.hours)) * 24;
    const settled = looks.filter(({ hours }) => hours > SETTLED_AFTER_H);
    const slope = slopeOf(settled) * 24;
    const most = Math.max(...looks.map(({ rssMb }) => rssMb));
    return [
      { what: `resident memory ${SETTLED_AFTER_H} simulated hours in`, value: settled[0]!.rssMb, unit: 'MB' },
      { what: `after ${HOURS} simulated hours at ${RATE_HZ} readings/s`, value: looks.at(-1)!.rssMb, unit: 'MB' },
      {
        what: 'slope of all looks between the two',
        value: slope,
        unit: 'MB/day',
        target: `≤ ${SLOPE_MAX_MB_PER_DAY}`,
        met: slope <= SLOPE_MAX_MB_PER_DAY,
      },
      { what: 'most', value: most, unit: 'MB', target: `≤ ${RSS_MAX_MB}`, met: most <= RSS_MAX_MB },
      { what: `alive after a collection, hour ${COMPILED_AFTER_H}`, value: aliveAtFirst!.mb, unit: 'MB' },
      { what: 'the same at the end', value: aliveAtLast.mb, unit: 'MB' },
      {
        what: 'slope between the two',
        value: aliveSlope,
        unit: 'MB/day',
        target: `≤ ${SLOPE_MAX_MB_PER_DAY}`,
        met: aliveSlope <= SLOPE_MAX_MB_PER_DAY,
      },
      { what: 'taken by the whole service', value: readings / seconds, unit: 'readings/s' },
      { what: 'the same, by its own processor time', value: readings / cpuS, unit: 'readings/CPU s' },
    ];
  } finally {
    await service?.remove();
    rmSync(dataFolder, { recursive: true, force: true });
  }
}

function writeDay(path: string): void {
  const simulation = createSimulation({ scenario: 'evening', seed: 11, rateHz: RATE_HZ });
  const file = openSync(path, 'w');
  try {
    for (let minute = 0; minute < HOURS * 60; minute++) writeSync(file, minuteOfLines(simulation));
  } finally {
    closeSync(file);
  }
}

function minuteOfLines(simulation: { step(): string }): Buffer {
  let lines = '';
  for (let i = 0; i < 60 * RATE_HZ; i++) lines += simulation.step();
  return Buffer.from(lines, 'latin1');
}

/** Least squares, MB an hour. */
function slopeOf(looks: readonly Look[]): number {
  const meanOf = (values: readonly number[]) => values.reduce((a, b) => a + b, 0) / values.length;
  const meanH = meanOf(looks.map(({ hours }) => hours));
  const meanMb = meanOf(looks.map(({ rssMb }) => rssMb));
  let cross = 0;
  let square = 0;
  for (const { hours, rssMb } of looks) {
    cross += (hours - meanH) * (rssMb - meanMb);
    square += (hours - meanH) ** 2;
  }
  return cross / square;
}
