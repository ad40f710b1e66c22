import { parquetMetadata } from 'hyparquet';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import type { SpoolJudgement } from '../../server/api/contract/judgement.ts';
import { IS_LONG_CHECK } from '../long-check.ts';
import { rowsOf } from './parquet-reader.ts';
import { type TestService, woundFromLines } from './test-service.ts';

const ROWS = 30_000;
let service: TestService;

/** A signal whose name starts like a formula, gaps, and a hundred readings at one place. */
function* lines(): Generator<string> {
  for (let i = 0; i < ROWS; i++) {
    const mm = (i < 9000 ? i : Math.max(9000, i - 100)) * 0.5;
    const d = i % 50 === 7 ? 'nan' : (1.75 + (i % 13) / 1000).toFixed(3);
    yield `ms=${i * 20} len=${mm.toFixed(1)} v=25 d=${d} t1=${(190 + (i % 7) / 10).toFixed(1)} =2+3=${i}`;
  }
}

beforeAll(async () => {
  // The columns shape, which allows any name for a signal.
  const named = [...lines()].map((line) =>
    line
      .split(' ')
      .map((field) => field.slice(field.lastIndexOf('=') + 1))
      .join(';'),
  );
  service = await woundFromLines(named, {
    shape: 'columns',
    columnNames: ['ms', 'len', 'v', 'd', 't1', '=2+3'],
  });
}, 60_000);
afterAll(() => service?.stop());

const text = async (format: string) => {
  const { bytes, headers, status } = await service.bytes(`/api/spools/1/export?format=${format}`);
  expect(status).toBe(200);
  expect(headers.get('content-disposition')).toBe(`attachment; filename="R1-1.${format}"`);
  return Buffer.from(bytes).toString('utf8');
};

describe('the exported readings of a spool', () => {
  it.skipIf(!IS_LONG_CHECK)('are complete, unique and in order, with units in the titles', async () => {
    const { sampling } = await service.get<SpoolJudgement>('/api/spools/1/judgement');
    const [header, ...rows] = (await text('csv')).trimEnd().split('\r\n');
    expect(header).toContain("'=2+3");
    expect(header).toMatch(/^time,position \[mm\],gauge length \[mm\],/);
    const titles = header!.split(',');
    const column = (title: string) => {
      const at = titles.indexOf(title);
      return rows.map((row) => row.split(',')[at]!);
    };
    expect(rows.length).toBe(sampling.readings);
    expect(rows.length).toBeGreaterThan(ROWS - 5);
    const counters = column("'=2+3").map(Number);
    const first = counters[0]!;
    expect(counters).toEqual(counters.map((_, i) => first + i));
    expect(column('d [mm]')).toEqual(
      counters.map((n) => (n % 50 === 7 ? '' : String(Number((1.75 + (n % 13) / 1000).toFixed(3))))),
    );
    const times = column('time').map((cell) => Date.parse(cell));
    expect(times.every((time, i) => i === 0 || time >= times[i - 1]!)).toBe(true);
    expect(times.at(-1)! - times[0]!).toBeCloseTo(20 * (rows.length - 1), -2);
  });

  it('are the same in CSV, JSON lines and Parquet', async () => {
    const [header, ...rows] = (await text('csv')).trimEnd().split('\r\n');
    const titles = header!.split(',').map((title) => title.replace(/^'/, ''));
    const fromCsv = rows.map((row) => row.split(','));
    const fromJson = (await text('jsonl'))
      .trimEnd()
      .split('\n')
      .map((line) => JSON.parse(line) as Record<string, unknown>);
    expect(fromJson.length).toBe(fromCsv.length);
    const { bytes } = await service.bytes('/api/spools/1/export?format=parquet');
    const file = bytes.buffer.slice(bytes.byteOffset, bytes.byteOffset + bytes.byteLength) as ArrayBuffer;
    const fromParquet = await rowsOf(file);
    expect(fromParquet.length).toBe(fromCsv.length);
    const metadata = parquetMetadata(file);
    const units = metadata.key_value_metadata?.find(({ key }) => key === 'units')?.value;
    expect(JSON.parse(units!)).toMatchObject({ d: 'mm', t1: '°C' });
    for (let i = 0; i < fromCsv.length; i += 97) {
      titles.forEach((title, c) => {
        const cell = fromCsv[i]![c]!;
        const inJson = fromJson[i]![title];
        const inParquet = fromParquet[i]![title];
        if (title === 'time') {
          expect(inJson).toBe(cell);
          expect(Math.abs((inParquet as Date).getTime() - Date.parse(cell))).toBeLessThanOrEqual(1);
        } else if (cell === '') {
          expect([inJson, inParquet]).toEqual([null, null]);
        } else {
          expect(inJson).toBe(Number(cell));
          expect(inParquet).toBeCloseTo(Number(cell), 3);
        }
      });
    }
  });

  it('have the positions corrected by a tape measurement', async () => {
    await service.send('PUT', '/api/spools/1/length-correction', {
      measuredMm: 990,
      indicatedMm: 1000,
      uncertaintyMm: 1,
    });
    const last = (await text('csv')).trimEnd().split('\r\n').at(-1)!.split(',');
    const gaugeMm = Number(last[2]);
    const { startGaugeMm } = service.store.reader.spool(1)!;
    expect(Number(last[1])).toBeCloseTo((gaugeMm - startGaugeMm) * 0.99, 2);
    await service.send('DELETE', '/api/spools/1/length-correction');
  });
});
