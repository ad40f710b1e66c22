import { writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import type { WindowView } from '../../server/api/contract/runs-and-spools.ts';
import { WINDOW_TYPE } from '../../server/monitor/ports/window-bytes.ts';
import { windowOf } from '../../web/service/window-bytes.ts';
import { gauss } from '../store/noise.ts';
import { randomOf } from '../store/readings.ts';
import { type OutsideReader, outsideReader } from './duckdb.ts';
import { type TestService, woundFromLines } from './test-service.ts';

// Independent check of stored readings and of windows: DuckDB reads the exported Parquet and answers the same queries.

/** Before a release enough that wide windows use two levels of summaries. */
const ROWS = 140_000;
let service: TestService;
let duckdb: OutsideReader;

function* lines(): Generator<string> {
  const g = gauss(3);
  let mm = 0;
  for (let i = 0; i < ROWS; i++) {
    mm += i % 5000 < 200 ? 0 : 0.7 + 0.02 * g();
    const d = i % 61 === 7 ? 'nan' : (1.75 + 0.01 * g()).toFixed(3);
    const t1 = i % 5 === 0 ? ` t1=${(200 + 0.3 * g()).toFixed(2)}` : ' t1=nan';
    yield `ms=${i * 20} n=${i} d=${d}${t1} v=35.0 len=${mm.toFixed(1)} spare=${(1e6 * g()).toExponential(5)}`;
  }
}

beforeAll(async () => {
  duckdb = await outsideReader();
  service = await woundFromLines([...lines()]);
  const { bytes } = await service.bytes('/api/spools/1/export?format=parquet');
  writeFileSync(join(duckdb.folder, 'spool.parquet'), bytes);
  await duckdb.run(
    `CREATE TABLE reading AS SELECT epoch_us("time") / 1000.0 AS ms, "gauge length [mm]" AS mm, "d [mm]" AS d,
     "t1 [°C]" AS t1, spare FROM '${join(duckdb.folder, 'spool.parquet')}'`,
  );
}, 60_000);
afterAll(async () => {
  duckdb?.close();
  await service?.stop();
});

interface Column {
  place: number;
  n: number;
  values: number;
  min: number | null;
  max: number | null;
  mean: number | null;
  sd: number | null;
}

describe('the exported Parquet of a spool, read by DuckDB', () => {
  it('has typed columns, and the units in its metadata', async () => {
    const path = join(duckdb.folder, 'spool.parquet');
    const columns = await duckdb.rows<{ column_name: string; column_type: string }>(`DESCRIBE SELECT * FROM '${path}'`);
    const types = Object.fromEntries(columns.map((column) => [column.column_name, column.column_type]));
    expect(types).toMatchObject({
      time: 'TIMESTAMP WITH TIME ZONE',
      'position [mm]': 'DOUBLE',
      'gauge length [mm]': 'DOUBLE',
      'd [mm]': 'DOUBLE',
      't1 [°C]': 'DOUBLE',
      spare: 'DOUBLE',
    });
    const [units] = await duckdb.rows<{ value: string }>(
      `SELECT decode(value) AS value FROM parquet_kv_metadata('${path}') WHERE decode(key) = 'units'`,
    );
    expect(JSON.parse(units!.value)).toMatchObject({ d: 'mm', t1: '°C', v: 'mm/s' });
  });

  it('gives the same counts, extremes, means and standard deviations in random windows of time and length', async () => {
    const [span] = await duckdb.rows<{ ms0: number; ms1: number; mm0: number; mm1: number }>(
      'SELECT min(ms) AS ms0, max(ms) AS ms1, min(mm) AS mm0, max(mm) AS mm1 FROM reading',
    );
    const random = randomOf(5);
    for (let k = 0; k < 12; k++) {
      const axis = k % 2 === 0 ? 'time' : 'length';
      const [x, low, high] = axis === 'time' ? ['ms', span!.ms0, span!.ms1] : ['mm', span!.mm0, span!.mm1];
      const width = (high - low) * 10 ** (-3 * random());
      const from = low + random() * (high - low - width);
      const to = from + width;
      const columns = 1 + Math.floor(random() * 400);
      const path = `/api/runs/1/window?axis=${axis}&from=${from}&to=${to}&columns=${columns}&signals=d,t1,spare&spread=true`;
      const window = await service.get<WindowView>(path);
      // Each column starts with its first reading, and no time occurs twice.
      const begun = window.timeMs.flatMap((ms, i) => (ms === null ? [] : [{ i, ms }]));
      const places = begun.map(({ i }) => i).join();
      const edges = begun.map(({ ms }) => ms).join();
      if (begun.length > 0) {
        const starts = await duckdb.rows<{ place: number; x: number }>(
          `WITH edge AS (SELECT unnest([${places}]) AS place, unnest([${edges}]::DOUBLE[]) AS edge)
           SELECT edge.place::INTEGER AS place, reading.${x} AS x FROM edge JOIN reading ON reading.ms = edge.edge`,
        );
        expect(starts.length).toBe(begun.length);
        for (const start of starts) {
          // An edge between columns may be up to an eighth of a column early.
          const early = (start.place === 0 ? 0 : 1 / 8) * ((to - from) / columns) + 1e-6;
          expect(start.x).toBeGreaterThanOrEqual(from + ((to - from) * start.place) / columns - early);
        }
      }
      for (const channel of ['d', 't1', 'spare']) {
        const answers = await duckdb.rows<Column>(
          `WITH edge AS (SELECT unnest([${places}]::INTEGER[]) AS place, unnest([${edges}]::DOUBLE[]) AS edge),
           placed AS (SELECT edge.place, reading.${channel} AS v FROM reading ASOF JOIN edge ON reading.ms >= edge.edge
                      WHERE reading.${x} >= ${from} AND reading.${x} <= ${to})
           SELECT place::INTEGER AS place, count(*)::INTEGER AS n, count(v)::INTEGER AS values, min(v) AS min, max(v) AS max,
           avg(v) AS mean, stddev_samp(v) AS sd FROM placed GROUP BY place`,
        );
        const byPlace = new Map(answers.map((answer) => [answer.place, answer]));
        const own = window.signals[channel]!;
        for (let i = 0; i < columns; i++) {
          const theirs = byPlace.get(i);
          expect(window.count[i]).toBe(theirs?.n ?? 0);
          expect(own.min[i]).toBe(theirs?.min ?? null);
          expect(own.max[i]).toBe(theirs?.max ?? null);
          if (theirs === undefined || theirs.mean === null) {
            expect(own.mean[i]).toBe(null);
            continue;
          }
          const size = Math.max(Math.abs(theirs.min!), Math.abs(theirs.max!));
          expect(Math.abs(own.mean[i]! - theirs.mean)).toBeLessThanOrEqual(1e-12 * size);
          if (theirs.values < 2) expect(own.sd![i]).toBe(null);
          else expect(Math.abs(own.sd![i]! - theirs.sd!)).toBeLessThanOrEqual(1e-9 * Math.max(theirs.sd!, 1e-6 * size));
        }
      }
    }
  }, 60_000);
});

describe('a window as bytes', () => {
  it('has the same content as its JSON, in less than half of the bytes', async () => {
    const path = '/api/runs/1/window?axis=length&from=0&to=15000&columns=800&signals=d,t1,unheard';
    const json = await service.get<WindowView>(path);
    const response = await fetch(`${service.address}${path}`, { headers: { accept: WINDOW_TYPE } });
    expect(response.headers.get('content-type')).toBe(WINDOW_TYPE);
    expect(response.headers.get('content-encoding')).toBe('gzip');
    expect(Number(response.headers.get('content-length'))).toBeLessThan(JSON.stringify(json).length / 2);
    expect(windowOf(await response.arrayBuffer())).toEqual(json);
  });

  it('is refused if it is not one', () => {
    expect(() => windowOf(new TextEncoder().encode('{"title": "no"}').buffer as ArrayBuffer)).toThrow(
      'something that is not a window',
    );
  });
});
