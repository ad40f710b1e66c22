import {
  type ExportRows,
  type ExportTable,
  GAUGE_TITLE,
  isoTime,
  POSITION_TITLE,
  type RowEncoder,
  signalTitles,
  TIME_TITLE,
} from './export-table.ts';

const utf8 = new TextEncoder();
const NOTHING = new Uint8Array(0);

/** Comma-separated values according to RFC 4180: a header line, CRLF, an empty cell for no value. */
export function csvEncoder(table: ExportTable): RowEncoder {
  const placed = table.of === 'spool' ? [POSITION_TITLE] : [];
  const titles = [TIME_TITLE, ...placed, GAUGE_TITLE, ...signalTitles(table)];
  return {
    begin: () => utf8.encode(`${titles.map(csvText).join(',')}\r\n`),
    rows(rows) {
      const { timeMs, positionMm, gaugeMm, values } = rows;
      let text = '';
      for (let i = 0; i < timeMs.length; i++) {
        text += isoTime(timeMs[i]!);
        if (positionMm !== null) text += `,${position(positionMm[i]!)}`;
        text += `,${gaugeMm[i]!}`;
        for (const column of values) text += Number.isFinite(column[i]!) ? `,${column[i]!}` : ',';
        text += '\r\n';
      }
      return utf8.encode(text);
    },
    end: () => NOTHING,
  };
}

/** One JSON object per line, with null for no value. */
export function jsonLinesEncoder(table: ExportTable): RowEncoder {
  const keys = signalTitles(table).map((title) => `,${JSON.stringify(title)}:`);
  const positionKey = `,${JSON.stringify(POSITION_TITLE)}:`;
  const gaugeKey = `,${JSON.stringify(GAUGE_TITLE)}:`;
  return {
    begin: () => NOTHING,
    rows(rows: ExportRows) {
      const { timeMs, positionMm, gaugeMm, values } = rows;
      let text = '';
      for (let i = 0; i < timeMs.length; i++) {
        text += `{"${TIME_TITLE}":"${isoTime(timeMs[i]!)}"`;
        if (positionMm !== null) text += `${positionKey}${position(positionMm[i]!)}`;
        text += `${gaugeKey}${gaugeMm[i]!}`;
        for (let c = 0; c < keys.length; c++) {
          const value = values[c]![i]!;
          text += `${keys[c]!}${Number.isFinite(value) ? value : 'null'}`;
        }
        text += '}\n';
      }
      return utf8.encode(text);
    },
    end: () => NOTHING,
  };
}

/**
 * A text cell. Names come from the line: a spreadsheet would run one that looks like a formula, so such a name gets an
 * apostrophe in front.
 */
export function csvText(text: string): string {
  const guarded = /^[=+\-@\t\r]/.test(text) ? `'${text}` : text;
  return /[",\r\n]/.test(guarded) ? `"${guarded.replaceAll('"', '""')}"` : guarded;
}

/** Rounds to 0.001 mm, to hide floating-point errors. */
function position(mm: number): number {
  return Math.round(mm * 1000) / 1000;
}
