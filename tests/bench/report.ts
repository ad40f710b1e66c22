/** One measured figure. */
export interface BenchRow {
  readonly what: string;
  readonly value: number;
  readonly unit: string;
  /** This project's figure divided by this one. */
  readonly ratio?: number;
  readonly target?: string;
  readonly met?: boolean;
}

/** Many figures of the same kind, in rows. */
export interface BenchTable {
  readonly title: string;
  readonly columns: readonly string[];
  readonly rows: readonly (readonly (number | string)[])[];
  readonly target: string;
  readonly met: boolean;
}

export function printTable(table: BenchTable): void {
  const cells = [table.columns, ...table.rows].map((row) => row.map((cell) => cell.toLocaleString('en')));
  const widths = table.columns.map((_, i) => Math.max(...cells.map((row) => row[i]?.length ?? 0)));
  const lines = cells.map((row, line) =>
    row
      .map((cell, i) => {
        const width = widths[i] ?? 0;
        return typeof table.rows[Math.max(0, line - 1)]?.[i] === 'number' ? cell.padStart(width) : cell.padEnd(width);
      })
      .join('  ')
      .trimEnd(),
  );
  const verdict = `target: ${table.target}: ${table.met ? 'met' : 'MISSED'}`;
  process.stdout.write(`${table.title}\n  ${lines.join('\n  ')}\n  ${verdict}\n\n`);
}

export function printRows(title: string, rows: readonly BenchRow[]): void {
  const width = Math.max(64, ...rows.map(({ what }) => what.length));
  const lines = rows.map((row) => {
    const value = row.value >= 1000 ? Math.round(row.value).toLocaleString('en') : row.value.toPrecision(4);
    const ratio = row.ratio === undefined ? '' : `  Strandward / this = ${row.ratio.toPrecision(3)}`;
    const target = row.target === undefined ? '' : `  target ${row.target}: ${row.met === true ? 'met' : 'MISSED'}`;
    return `  ${row.what.padEnd(width)} ${value.padStart(12)} ${row.unit}${ratio}${target}`;
  });
  process.stdout.write(`${title}\n${lines.join('\n')}\n\n`);
}
