import {
  type ExportRows,
  type ExportTable,
  GAUGE_TITLE,
  POSITION_TITLE,
  type RowEncoder,
  signalTitles,
  TIME_TITLE,
} from './export-table.ts';
import { TextWriter } from './text-writer.ts';

const utf8 = new TextEncoder();
const NOTHING = new Uint8Array(0);
const COMMA = 0x2c;
const LINE_END = utf8.encode('\r\n');

/** Comma-separated values according to RFC 4180: a header line, CRLF, an empty cell for no value. */
export function csvEncoder(table: ExportTable): RowEncoder {
  const placed = table.of === 'spool' ? [POSITION_TITLE] : [];
  const titles = [TIME_TITLE, ...placed, GAUGE_TITLE, ...signalTitles(table)];
  const out = new TextWriter();
  return {
    begin: () => utf8.encode(`${titles.map(csvText).join(',')}\r\n`),
    rows(rows) {
      const { timeMs, positionMm, gaugeMm, values } = rows;
      for (let i = 0; i < timeMs.length; i++) {
        out.time(timeMs[i]!);
        if (positionMm !== null) {
          out.byte(COMMA);
          out.number(position(positionMm[i]!));
        }
        out.byte(COMMA);
        out.number(gaugeMm[i]!);
        for (const column of values) {
          out.byte(COMMA);
          if (Number.isFinite(column[i]!)) out.number(column[i]!);
        }
        out.text(LINE_END);
      }
      return out.take();
    },
    end: () => NOTHING,
  };
}

/** One JSON object per line, with null for no value. */
export function jsonLinesEncoder(table: ExportTable): RowEncoder {
  const key = (title: string) => utf8.encode(`,${JSON.stringify(title)}:`);
  const keys = signalTitles(table).map(key);
  const [positionKey, gaugeKey] = [key(POSITION_TITLE), key(GAUGE_TITLE)];
  const timeKey = utf8.encode(`{"${TIME_TITLE}":"`);
  const [quote, none, rowEnd] = [utf8.encode('"'), utf8.encode('null'), utf8.encode('}\n')];
  const out = new TextWriter();
  return {
    begin: () => NOTHING,
    rows(rows: ExportRows) {
      const { timeMs, positionMm, gaugeMm, values } = rows;
      for (let i = 0; i < timeMs.length; i++) {
        out.text(timeKey);
        out.time(timeMs[i]!);
        out.text(quote);
        if (positionMm !== null) {
          out.text(positionKey);
          out.number(position(positionMm[i]!));
        }
        out.text(gaugeKey);
        out.number(gaugeMm[i]!);
        for (let c = 0; c < keys.length; c++) {
          const value = values[c]![i]!;
          out.text(keys[c]!);
          if (Number.isFinite(value)) out.number(value);
          else out.text(none);
        }
        out.text(rowEnd);
      }
      return out.take();
    },
    end: () => NOTHING,
  };
}

/**
 * A text cell. Names come from the line: a spreadsheet would run one that looks like a formula, so such a name gets an
 * apostrophe in front, also before the wide signs of East Asia. Where it separates cells by semicolons, so does what follows one.
 */
export function csvText(text: string): string {
  const guarded = text.replaceAll(/^(?=[=+\-@＝＋－＠\t\r])|(?<=[;\t\r\n])(?=[=+\-@＝＋－＠])/g, "'");
  return /[",\r\n]/.test(guarded) ? `"${guarded.replaceAll('"', '""')}"` : guarded;
}

/** Rounds to 0.001 mm, to hide floating-point errors. */
function position(mm: number): number {
  return Math.round(mm * 1000) / 1000;
}
