/** After years the record holds thousands of runs. What goes through all of them lets the line be watched in between. */
import { expect, it } from 'vitest';
import { nightsOfRuns } from '../../server/api/nights-of-runs.ts';
import type { Run } from '../../server/entities/run.ts';
import { LotService } from '../../server/monitor/run/lot-service.ts';
import { fedRuns } from '../../server/monitor/stock/fed-runs.ts';
import { StockService } from '../../server/monitor/stock/stock-service.ts';
import { FED_KG } from '../../server/preparation/fields.ts';

const RUNS = 200;

const runs = Array.from({ length: RUNS }, (_, i): Run => {
  const startedMs = i * 86_400_000;
  const lot = { name: 'Grey', preparation: 'dried 4 h', values: { [FED_KG]: 1 } };
  const stated = { note: '', title: '', isTest: false, lot };
  return { id: i + 1, startedMs, endedMs: startedMs + 1, timeZone: 'UTC', sourceTitle: 'a cable', ...stated };
});

const reader = { runs: () => runs };
const spools = { run: (id: number) => runs[id - 1], ofRun: () => [] };

/** How often something else could run meanwhile. */
async function turnsDuring(work: () => Promise<unknown>): Promise<number> {
  let turns = 0;
  let isOver = false;
  const count = () => {
    turns++;
    if (!isOver) setImmediate(count);
  };
  setImmediate(count);
  await work();
  isOver = true;
  return turns;
}

async function all(items: AsyncIterable<unknown>): Promise<void> {
  for await (const _ of items);
}

// Only what these need of the other parts.
const stock = new StockService({ reader, spools } as unknown as ConstructorParameters<typeof StockService>[0]);
const lots = new LotService({ reader } as unknown as ConstructorParameters<typeof LotService>[0]);
const nights = {
  views: { runs: async () => runs.map(({ id, endedMs }) => ({ id, endedMs })) },
  spools,
  lineValues: { of: async () => ({}) },
} as unknown as Parameters<typeof nightsOfRuns>[0];
const [anyReader, anySpools, judge] = [reader, spools, {}] as unknown as Parameters<typeof fedRuns>;

it.each([
  ['the material of all runs', () => lots.all()],
  ['the shelf', () => all(stock.shelf())],
  ['the prints of all spools', () => stock.promises()],
  ['the yield of all runs', () => fedRuns(anyReader, anySpools, judge)],
  ['what all nights show', () => nightsOfRuns(nights)],
])('%s', async (_what, work) => {
  expect(await turnsDuring(work)).toBeGreaterThanOrEqual(RUNS);
});
