import { benchDetection } from './detection.ts';
import { benchHeat } from './heat.ts';
import { benchJudging } from './judging.ts';
import { benchReplay } from './replay.ts';
import { type BenchRow, type BenchTable, printRows, printTable } from './report.ts';

/** Every bench by name: npm run bench -- replay; without a name all are run. --json prints rows for machines. */
const BENCHES: Readonly<Record<string, () => Promise<BenchRow[]>>> = {
  replay: benchReplay,
  detection: benchDetection,
  judging: benchJudging,
};

/** Those whose figures are many of a kind. */
const TABLES: Readonly<Record<string, () => BenchTable[]>> = {
  heat: benchHeat,
};

const args = process.argv.slice(2);
const json = args.includes('--json');
const names = args.filter((arg) => arg !== '--json');
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
  if (!json) printRows(name, rows);
}
for (const [name, bench] of Object.entries(TABLES)) {
  if (names.length > 0 && !names.includes(name)) continue;
  const tables = bench();
  all[name] = tables;
  if (!json) for (const table of tables) printTable(table);
}
if (json) process.stdout.write(`${JSON.stringify(all, null, 2)}\n`);
