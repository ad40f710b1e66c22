import { parseArgs } from 'node:util';
import { benchClaims } from './claims.ts';
import { benchDetection } from './detection.ts';
import { benchFeed } from './feed.ts';
import { benchFlat } from './flat.ts';
import { benchHeat } from './heat.ts';
import { benchJudging } from './judging.ts';
import { benchLines } from './lines.ts';
import { benchNotify } from './notify.ts';
import { benchPage } from './page.ts';
import { benchReading } from './reading.ts';
import { benchReplay } from './replay.ts';
import { type BenchRow, type BenchTable, printRows, printTable } from './report.ts';
import { benchRewinding } from './rewinding.ts';
import { benchStart } from './start.ts';
import { benchSteady } from './steady.ts';
import { benchStore, READINGS } from './store.ts';

/**
 * Every bench by name: npm run bench -- replay; without a name all are run. --json prints rows for machines,
 * --readings N sets the size of the record in the bench of the store.
 */
const { values, positionals: names } = parseArgs({
  allowPositionals: true,
  options: { json: { type: 'boolean', default: false }, readings: { type: 'string', default: String(READINGS) } },
});
const readings = Number(values.readings);
if (!(Number.isInteger(readings) && readings >= 100_000)) {
  console.error(`--readings ${values.readings} is no number of readings; give 100000 or more.`);
  process.exit(2);
}
const BENCHES: Readonly<Record<string, () => Promise<BenchRow[]>>> = {
  reading: benchReading,
  replay: benchReplay,
  store: () => benchStore(readings),
  page: benchPage,
  notify: benchNotify,
  detection: benchDetection,
  claims: benchClaims,
  judging: benchJudging,
  start: benchStart,
  steady: benchSteady,
  feed: benchFeed,
  lines: benchLines,
  flat: benchFlat,
};

/** Those whose figures are many of a kind; each table is printed as soon as it is there. */
const TABLES: Readonly<Record<string, () => Iterable<BenchTable> | AsyncIterable<BenchTable>>> = {
  heat: benchHeat,
  rewinding: benchRewinding,
};

const unknown = names.filter((name) => BENCHES[name] === undefined && TABLES[name] === undefined);
if (unknown.length > 0) {
  console.error(
    `There is no bench “${unknown.join('”, “')}”. There are: ${Object.keys({ ...BENCHES, ...TABLES }).join(', ')}.`,
  );
  process.exit(2);
}
const all: Record<string, BenchRow[] | BenchTable[]> = {};
for (const [name, bench] of Object.entries(BENCHES)) {
  if (names.length > 0 && !names.includes(name)) continue;
  const rows = await bench();
  all[name] = rows;
  if (!values.json) printRows(name, rows);
}
for (const [name, bench] of Object.entries(TABLES)) {
  if (names.length > 0 && !names.includes(name)) continue;
  const tables: BenchTable[] = [];
  all[name] = tables;
  for await (const table of bench()) {
    tables.push(table);
    if (!values.json) printTable(table);
  }
}
if (values.json) process.stdout.write(`${JSON.stringify(all, null, 2)}\n`);
