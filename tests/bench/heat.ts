import { FAULTS, type FaultOutcome, playFault } from './heat/faults.ts';
import { type FalseClaim, normalLife } from './heat/normal-life.ts';
import { WatchedLine } from './heat/watched-line.ts';
import type { BenchTable } from './report.ts';

/** Seeds from here on were never looked at while the rules were tuned. */
const HELD_OUT_FROM = 500_000;

const EVENINGS = 1000;
const BLIND_EVENINGS = 200;
const OF_EACH_FAULT = 200;
const OTHERS_OF_EACH_FAULT = 40;
const TARGET_S = 15;

const HALVES = [
  { half: 'tuning', from: 1000 },
  { half: 'held out', from: HELD_OUT_FROM },
] as const;

/** What is known of the line: learnt from a heat-up on an evening before, nothing yet, or not even its power. */
const LINES = ['learnt', 'first evening', 'without power'] as const;

/**
 * Normal evenings that must raise nothing, and each fault on scattered lines, in two halves of seeds. Delays count from
 * when the fault can be seen at all (`heat/sight.ts`).
 */
export function benchHeat(): BenchTable[] {
  const evenings: BenchTable['rows'][number][] = [];
  const faults: BenchTable['rows'][number][] = [];
  for (const known of LINES) {
    const blind = known === 'without power';
    const lives = known === 'learnt' ? 0 : (blind ? BLIND_EVENINGS : EVENINGS) / 2;
    const plays = (known === 'learnt' ? OF_EACH_FAULT : OTHERS_OF_EACH_FAULT) / 2;
    for (const { half, from } of lives === 0 ? [] : HALVES) {
      const claims: FalseClaim[] = [];
      let hours = 0;
      for (let i = 0; i < lives; i++) {
        const { falseClaims, simulatedS } = normalLife(from + i, blind);
        claims.push(...falseClaims);
        hours += simulatedS / 3600;
      }
      evenings.push([
        blind ? 'without power' : 'all channels',
        half,
        lives,
        Math.round(hours),
        claims.length,
        causes(claims),
      ]);
    }
    for (const fault of FAULTS)
      for (const { half, from } of HALVES) {
        const outcomes: FaultOutcome[] = [];
        for (let i = 0; i < plays; i++) {
          const seed = from + 10_000 + i;
          const line = new WatchedLine(seed, blind);
          outcomes.push(playFault(fault, seed, known === 'learnt' ? line.learn() : line));
        }
        faults.push([known, fault.name, half, ...figures(outcomes)]);
      }
  }
  return [
    {
      title: 'normal evenings: heat-up, cold stock, fan, set-points, gap, restart, cool-down',
      columns: ['channels', 'seeds', 'evenings', 'hours', 'false', 'which'],
      rows: evenings,
      target: 'none false',
      met: evenings.filter(([channels]) => channels === 'all channels').every((row) => row[4] === 0),
    },
    {
      title: 'faults; delay in s from when each can be seen at all',
      columns: [
        'line',
        'fault',
        'seeds',
        'runs',
        'unseen',
        'missed',
        'false',
        'p50',
        'p90',
        'max',
        'late',
        'since it began p50',
        'p90',
        'named right %',
      ],
      rows: faults,
      target: `learnt lines: none missed, none false, all within ${TARGET_S} s`,
      met: faults
        .filter(([known]) => known === 'learnt')
        .every((row) => row[5] === 0 && row[6] === 0 && Number(row[9]) <= TARGET_S),
    },
  ];
}

/** Unseen: it could not be seen within the time of the scene, and was not found. */
function figures(outcomes: readonly FaultOutcome[]): (number | string)[] {
  const unseen = outcomes.filter(({ seenAfterS, sinceItBeganS }) => seenAfterS === null && sinceItBeganS === null);
  const missed = outcomes.filter(({ seenAfterS, sinceItBeganS }) => seenAfterS !== null && sinceItBeganS === null);
  const found = outcomes.filter(({ sinceItBeganS }) => sinceItBeganS !== null);
  const delays = found.flatMap(({ delayS }) => (delayS === null ? [] : [delayS])).sort((a, b) => a - b);
  const since = found.map(({ sinceItBeganS }) => sinceItBeganS ?? 0).sort((a, b) => a - b);
  return [
    outcomes.length,
    unseen.length,
    missed.length,
    outcomes.reduce((sum, { falseClaims }) => sum + falseClaims, 0),
    quantile(delays, 0.5),
    quantile(delays, 0.9),
    quantile(delays, 1),
    delays.filter((delayS) => delayS > TARGET_S).length,
    quantile(since, 0.5),
    quantile(since, 0.9),
    found.length === 0 ? '–' : Math.round((100 * found.filter(({ namedRight }) => namedRight).length) / found.length),
  ];
}

function quantile(sorted: readonly number[], share: number): number | string {
  const value = sorted[Math.max(0, Math.ceil(share * sorted.length) - 1)];
  return value === undefined ? '–' : Math.round(value * 10) / 10;
}

function causes(claims: readonly FalseClaim[]): string {
  const counts = new Map<string, number>();
  for (const { during, fault } of claims) {
    const key = `${during}: ${fault}`;
    counts.set(key, (counts.get(key) ?? 0) + 1);
  }
  return [...counts].map(([key, count]) => `${count} × ${key}`).join(', ');
}
