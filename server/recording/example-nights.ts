import { EXAMPLE } from '../entities/run.ts';
import type { ExampleNight, ReplaySettings } from '../monitor/ports/recording.ts';
import { blobNight, goodNight, heaterNight, type Scenario, simulatedSource } from '../source/simulated-source.ts';
import { replaySource } from './replay-source.ts';

/** Readings per second: three on the shortest blob of the simulator, in less than half the time of the usual rate. */
const RATE_HZ = 20;

interface SimulatedNight extends Omit<ExampleNight, 'startMs'> {
  readonly scenario: Scenario;
  readonly seed: number;
  readonly daysAgo: number;
}

/** What a workshop of our own learnt in three nights. */
const NIGHTS: readonly SimulatedNight[] = [
  {
    name: blobNight.title,
    scenario: blobNight,
    seed: 1,
    daysAgo: 3,
    lot: {
      name: 'White PLA waste, batch 1',
      preparation: 'Sorted by hand, shredded',
      values: { sieveMm: 0, dryingH: 2, dryingC: 55, colour: 'white' },
    },
    note: 'Lumps in the hopper all evening. Sieve the next batch.',
  },
  {
    name: heaterNight.title,
    scenario: heaterNight,
    seed: 2,
    daysAgo: 2,
    lot: {
      name: 'White PLA waste, batch 2',
      preparation: 'Sorted by hand, shredded',
      values: { sieveMm: 4, dryingH: 2, dryingC: 55, colour: 'white' },
    },
    note: 'The heater of zone 2 burnt out, then the strand broke. A new heater is in.',
  },
  {
    name: goodNight.title,
    scenario: goodNight,
    seed: 3,
    daysAgo: 1,
    lot: {
      name: 'White PLA waste, batch 2',
      preparation: 'Sorted by hand, shredded',
      values: { sieveMm: 4, dryingH: 6, dryingC: 55, colour: 'white' },
    },
    note: 'The best spool so far: sieve, and dry overnight.',
  },
];

/** Local time at which the line was switched on. */
const SWITCHED_ON = { hour: 20, minute: 10 } as const;

/** The example nights, the oldest first. */
export function exampleNights(nowMs: number): readonly ExampleNight[] {
  return NIGHTS.map(({ name, lot, note, daysAgo }) => ({ name, lot, note, startMs: eveningBefore(nowMs, daysAgo) }));
}

function eveningBefore(nowMs: number, days: number): number {
  const evening = new Date(nowMs);
  evening.setDate(evening.getDate() - days);
  evening.setHours(SWITCHED_ON.hour, SWITCHED_ON.minute, 0, 0);
  return evening.getTime();
}

/** Simulates an example night through the whole pipeline, see `replaySource`. @returns paths of archives */
export async function simulateNight(
  name: string,
  settings: ReplaySettings,
  stop: AbortSignal,
): Promise<readonly string[]> {
  const night = NIGHTS.find((one) => one.name === name);
  if (night === undefined) throw new TypeError(`There is no example night “${name}”.`);
  const { scenario, seed } = night;
  const source = simulatedSource(
    {
      scenario,
      seed,
      pace: 'max',
      rateHz: RATE_HZ,
      also: ['turns'],
      startMs: settings.startMs,
      ...(scenario.durationS === null ? {} : { durationS: scenario.durationS }),
    },
    Date.now,
  );
  return (await replaySource(source, `${EXAMPLE}${name}`, settings, () => {}, stop)).archives;
}
