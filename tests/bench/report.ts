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

export function printRows(title: string, rows: readonly BenchRow[]): void {
  const lines = rows.map((row) => {
    const value = row.value >= 1000 ? Math.round(row.value).toLocaleString('en') : row.value.toPrecision(4);
    const ratio = row.ratio === undefined ? '' : `  Strandward / this = ${row.ratio.toPrecision(3)}`;
    const target = row.target === undefined ? '' : `  target ${row.target}: ${row.met === true ? 'met' : 'MISSED'}`;
    return `  ${row.what.padEnd(64)} ${value.padStart(12)} ${row.unit}${ratio}${target}`;
  });
  process.stdout.write(`${title}\n${lines.join('\n')}\n\n`);
}
