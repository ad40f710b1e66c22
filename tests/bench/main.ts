import { benchReplay } from './replay.ts';
import { type BenchRow, printRows } from './report.ts';

/** Every bench by name: npm run bench -- replay; without a name all are run. --json prints rows for machines. */
const BENCHES: Readonly<Record<string, () => Promise<BenchRow[]>>> = {
  replay: benchReplay,
};

const args = process.argv.slice(2);
const json = args.includes('--json');
const names = args.filter((arg) => arg !== '--json');
const unknown = names.filter((name) => BENCHES[name] === undefined);
if (unknown.length > 0) {
  console.error(`There is no bench “${unknown.join('”, “')}”. There are: ${Object.keys(BENCHES).join(', ')}.`);
  process.exit(2);
}
const all: Record<string, BenchRow[]> = {};
for (const [name, bench] of Object.entries(BENCHES)) {
  if (names.length > 0 && !names.includes(name)) continue;
  const rows = await bench();
  all[name] = rows;
  if (!json) printRows(name, rows);
}
if (json) process.stdout.write(`${JSON.stringify(all, null, 2)}\n`);
