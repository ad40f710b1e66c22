import { writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { parquetMetadata } from 'hyparquet';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import type { RunDetail, WindowView } from '../../server/api/contract/runs-and-spools.ts';
import { casesOf } from '../long-check.ts';
import { gauss } from '../store/noise.ts';
import { type OutsideReader, outsideReader } from './duckdb.ts';
import { rowsOf } from './parquet-reader.ts';
import { type TestService, woundFromLines } from './test-service.ts';

// Independent check: DuckDB and hyparquet read the export and find the readings sent and the values of the windows.

const ROWS = 70_000;
/** The strand stands still for most of the run, so one gauge length has far more readings than a piece. */
const STILL = 55_000;
const sent: { d: number | null; t1: number | null; odd: number }[] = [];
let service: TestService;
let duckdb: OutsideReader;

function* lines(): Generator<string> {
  const g = gauss(11);
  for (let i = 0; i < ROWS; i++) {
    const d = i % 61 === 7 ? null : Number((1.75 + 0.01 * g()).toFixed(3));
    const t1 = i % 5 === 0 ? Number((200 + 0.3 * g()).toFixed(2)) : null;
    sent.push({ d, t1, odd: i });
    const mm = Math.max(0, i - STILL) * 0.7;
    yield `ms=${i * 20};d=${d ?? 'nan'};t1=${t1 ?? '-'};len=${mm.toFixed(1)};=odd=${i}`;
  }
}

const FORMATS = ['csv', 'jsonl', 'parquet'] as const;
const pathOf = (format: (typeof FORMATS)[number]) => join(duckdb.folder, `run.${format}`);

beforeAll(async () => {
  duckdb = await outsideReader();
  const columns = [...lines()].map((line) =>
    line
      .split(';')
      .map((field) => field.slice(field.lastIndexOf('=') + 1))
      .join(';'),
  );
  service = await woundFromLines(columns, { shape: 'columns', columnNames: ['ms', 'd', 't1', 'len', '=odd'] });
  for (const format of FORMATS) {
    const { bytes, status, headers } = await service.bytes(`/api/runs/1/export?format=${format}`);
    expect(status).toBe(200);
    expect(headers.get('content-disposition')).toBe(`attachment; filename="R1.${format}"`);
    // A progress bar needs no more than this.
    expect(bytes.length / Number(headers.get('strandward-bytes-about'))).toBeCloseTo(1, 0);
    writeFileSync(pathOf(format), bytes);
  }
}, 120_000);
afterAll(async () => {
  duckdb?.close();
  await service?.stop();
});

const FROM = {
  csv: () => `read_csv('${pathOf('csv')}', header = true, sample_size = -1)`,
  jsonl: () => `read_json('${pathOf('jsonl')}', format = 'newline_delimited', sample_size = -1)`,
  parquet: () => `'${pathOf('parquet')}'`,
} as const;
/** A name that starts like a formula is changed in CSV only. */
const ODD = { csv: `"'=odd"`, jsonl: '"=odd"', parquet: '"=odd"' } as const;

describe.each(casesOf(FORMATS, 1))('a whole run exported as %s, read by DuckDB', (format) => {
  it('has typed columns: a time in UTC, numbers, and no position on a spool', async () => {
    const columns = await duckdb.rows<{ column_name: string; column_type: string }>(
      `DESCRIBE SELECT * FROM ${FROM[format]()}`,
    );
    expect(columns.map(({ column_name }) => column_name.replace(/^'/, ''))).toStrictEqual([
      'time',
      'gauge length [mm]',
      'd [mm]',
      't1 [°C]',
      'len [mm]',
      '=odd',
    ]);
    const types = columns.map(({ column_type }) => column_type);
    expect(types[0]).toMatch(/^TIMESTAMP/);
    for (const type of types.slice(1)) expect(type).toMatch(/^(DOUBLE|BIGINT)$/);
    if (format === 'parquet') {
      expect(types).toStrictEqual(['TIMESTAMP WITH TIME ZONE', ...Array.from({ length: 5 }, () => 'DOUBLE')]);
    }
  });

  it('contains every reading as it was sent, once and in order, with gaps as gaps', async () => {
    const rows = await duckdb.rows<{ d: number | null; t1: number | null; odd: number | bigint }>(
      `SELECT "d [mm]" AS d, "t1 [°C]" AS t1, ${ODD[format]} AS odd FROM ${FROM[format]()}`,
    );
    const first = Number(rows[0]!.odd);
    expect(first).toBeLessThan(3);
    expect(rows.length).toBe(ROWS - first);
    let wrong = 0;
    for (const [i, { d, t1, odd }] of rows.entries()) {
      const was = sent[i + first]!;
      // Stored as thousandths and hundredths: the nearest double of the same digits.
      const same = (a: number | null, b: number | null) =>
        a === null || b === null ? a === b : Math.abs(a - b) < 1e-9;
      if (!same(d, was.d) || !same(t1, was.t1) || Number(odd) !== was.odd) wrong++;
    }
    expect(wrong).toBe(0);
  });

  it('has the same counts, extremes and means as the window of the service', async () => {
    const { extent } = await service.get<RunDetail>('/api/runs/1');
    const window = await service.get<WindowView>(
      `/api/runs/1/window?axis=time&from=${extent!.fromMs}&to=${extent!.toMs}&columns=1&signals=d,t1`,
    );
    const [all] = await duckdb.rows<Record<string, number>>(
      `SELECT count(*)::INTEGER AS n, min("d [mm]") AS dMin, max("d [mm]") AS dMax, avg("d [mm]") AS dMean,
       min("t1 [°C]") AS tMin, max("t1 [°C]") AS tMax, avg("t1 [°C]") AS tMean,
       epoch_ms(min(time)::TIMESTAMPTZ)::DOUBLE AS fromMs, epoch_ms(max(time)::TIMESTAMPTZ)::DOUBLE AS toMs FROM ${FROM[format]()}`,
    );
    expect(all!.n).toBe(window.count[0]);
    expect(all!.n).toBe(extent!.count);
    const { d, t1 } = window.signals as Record<string, { min: number[]; max: number[]; mean: number[] }>;
    expect([all!.dMin, all!.dMax, all!.tMin, all!.tMax]).toStrictEqual([d!.min[0], d!.max[0], t1!.min[0], t1!.max[0]]);
    expect(all!.dMean).toBeCloseTo(d!.mean[0]!, 10);
    expect(all!.tMean).toBeCloseTo(t1!.mean[0]!, 9);
    expect(Math.abs(all!.fromMs! - extent!.fromMs)).toBeLessThanOrEqual(1);
    expect(Math.abs(all!.toMs! - extent!.toMs)).toBeLessThanOrEqual(1);
  });
});

describe('a whole run exported as Parquet', () => {
  it('names its units in the metadata, and is packed in row groups that hyparquet reads', async () => {
    const { bytes } = await service.bytes('/api/runs/1/export?format=parquet');
    const file = bytes.buffer.slice(bytes.byteOffset, bytes.byteOffset + bytes.byteLength) as ArrayBuffer;
    const metadata = parquetMetadata(file);
    const value = (name: string) => metadata.key_value_metadata?.find(({ key }) => key === name)?.value;
    expect(JSON.parse(value('units')!)).toStrictEqual({ d: 'mm', t1: '°C', len: 'mm', '=odd': '' });
    expect(value('run')).toBe('R1');
    expect(metadata.row_groups.length).toBe(2);
    const rows = await rowsOf(file, { rowStart: 49_990, rowEnd: 50_010 });
    expect(rows.map((row) => row['=odd'])).toStrictEqual(rows.map((_, i) => Number(rows[0]!['=odd']) + i));
  });
});

it('an unknown run, and one whose readings were deleted, are refused before anything is sent', async () => {
  expect((await service.bytes('/api/runs/99/export')).status).toBe(404);
  expect((await service.bytes('/api/runs/1/export?format=xlsx')).status).toBe(400);
  const { store } = service;
  for (let step = store.maintenance.thinStep(Date.now() * 2, Date.now()); step !== null; ) {
    step = store.maintenance.thinStep(Date.now() * 2, Date.now());
  }
  expect((await service.bytes('/api/runs/1/export')).status).toBe(410);
});
