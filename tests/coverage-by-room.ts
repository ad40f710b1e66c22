import path from 'node:path';
import type { Reporter } from 'vitest/node';

interface Share {
  total: number;
  covered: number;
}

/** What is used of the map that vitest hands over without a type. */
interface CoverageMap {
  files(): string[];
  fileCoverageFor(file: string): { toSummary(): { lines: Share; branches: Share } };
}

interface RoomRow {
  files: number;
  readonly lines: Share;
  readonly branches: Share;
}

/** Prints how much of each room the tests ran; a table of all files would be too long to read. */
export function coverageByRoom(root: string): Reporter {
  return {
    onCoverage(coverage) {
      process.stdout.write(`\n${tableOf(rowsOf(coverage as CoverageMap, root))}\n`);
    },
  };
}

function rowsOf(coverage: CoverageMap, root: string): ReadonlyMap<string, RoomRow> {
  const rows = new Map<string, RoomRow>();
  for (const file of coverage.files()) {
    const room = roomOf(path.relative(root, file));
    const row = rows.get(room) ?? { files: 0, lines: { total: 0, covered: 0 }, branches: { total: 0, covered: 0 } };
    rows.set(room, row);
    const { lines, branches } = coverage.fileCoverageFor(file).toSummary();
    row.files += 1;
    add(row.lines, lines);
    add(row.branches, branches);
  }
  return rows;
}

function add(sum: Share, { total, covered }: Share): void {
  sum.total += total;
  sum.covered += covered;
}

/** `server/strand/plan/best-cuts.ts` is in `server/strand`, `web/live/live-page.tsx` in `web`. */
function roomOf(file: string): string {
  const [top = '', folder, ...deeper] = file.split('/');
  return top === 'server' && deeper.length > 0 ? `${top}/${folder}` : top;
}

function tableOf(rows: ReadonlyMap<string, RoomRow>): string {
  const row = (room: string, ...cells: string[]): string =>
    [room.padEnd(20), ...cells.map((cell) => cell.padStart(10))].join('');
  return [
    'Code that the tests ran in their own process. Code run in the browser, on a worker thread or in the service as a',
    'child process is not counted.',
    row('room', 'files', 'lines', 'branches'),
    ...[...rows.keys()].sort().map((room) => {
      const { files, lines, branches } = rows.get(room)!;
      return row(room, `${files}`, percent(lines), percent(branches));
    }),
  ].join('\n');
}

function percent({ total, covered }: Share): string {
  return total === 0 ? '–' : `${((100 * covered) / total).toFixed(1)} %`;
}
