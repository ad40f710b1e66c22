import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { openStore } from '../../server/store/index.ts';
import { tries } from '../long-check.ts';
import { gauss } from './noise.ts';
import { beginRun, inNewRecord, layoutOf, readingOf, withStore } from './readings.ts';

const value = fc.oneof(
  fc.integer({ min: 1600, max: 1900 }).map((um) => um / 1000),
  fc.double(),
  fc.constantFrom(Number.NaN, 0, -0, 5e-324, -1e-310, 1.7976931348623157e308, Infinity, -Infinity, 4_294_967_295),
);
const step = fc.record({
  afterTenths: fc.integer({ min: 1, max: 100_000 }),
  onHundredths: fc.integer({ min: 0, max: 500 }),
  values: fc.array(value, { minLength: 0, maxLength: 3 }),
  // What the process does after this reading.
  next: fc.constantFrom('append', 'append', 'append', 'append', 'tick', 'flush', 'reopen', 'grow'),
});

describe('the sample store', () => {
  it('returns every reading exactly as it was sent, across batches, layouts and restarts', async () => {
    await fc.assert(
      fc.asyncProperty(fc.array(step, { minLength: 1, maxLength: 60 }), async (steps) => {
        await inNewRecord(async (folder) => {
          let store = openStore({ folder });
          const runId = beginRun(store);
          let names = ['d', 't1'];
          let layout = layoutOf(names);
          const sent: { timeMs: number; gaugeMm: number; values: Record<string, number> }[] = [];
          let tenths = 17_500_000_000_000;
          let hundredths = 0;
          for (const [i, s] of steps.entries()) {
            tenths += s.afterTenths;
            hundredths += s.onHundredths;
            const values = s.values.slice(0, names.length);
            store.samples.append(runId, readingOf(layout, tenths / 10, values), hundredths / 100);
            sent.push({
              timeMs: tenths / 10,
              gaugeMm: hundredths / 100,
              values: Object.fromEntries(names.map((name, c) => [name, values[c] ?? Number.NaN])),
            });
            if (s.next === 'tick') store.tick(i);
            if (s.next === 'flush') store.samples.flush();
            if (s.next === 'grow') {
              // A reconnection: the channels are in another order, with a new one in front.
              names = [`free${i}`, ...names].slice(0, 3).reverse();
              layout = layoutOf(names);
            }
            if (s.next === 'reopen') {
              await store.close();
              store = openStore({ folder });
            }
          }
          const all = [...new Set(sent.flatMap((r) => Object.keys(r.values)))];
          const back = await store.columns.readings(runId, 0, hundredths / 100, all);
          const last = store.writer.unfinishedRun()!.last!;
          await store.close();

          expect([...back.timeMs]).toStrictEqual(sent.map((r) => r.timeMs));
          expect([...back.gaugeMm]).toStrictEqual(sent.map((r) => r.gaugeMm));
          for (const name of all) {
            expect([...back.values[name]!]).toStrictEqual(sent.map((r) => r.values[name] ?? Number.NaN));
          }
          const finite = (v: number | undefined) => (Number.isFinite(v) ? v : null);
          expect(last.timeMs).toBe(sent.at(-1)!.timeMs);
          for (const name of all) expect(last.values[name]).toStrictEqual(finite(sent.at(-1)!.values[name]));
        });
      }),
      { numRuns: tries(25) },
    );
  }, 30_000);

  it('keeps the readings of two runs apart, even if they alternate', async () => {
    await withStore(async (store) => {
      const a = beginRun(store);
      const b = beginRun(store);
      const layout = layoutOf(['d']);
      for (let i = 0; i < 300; i++) {
        store.samples.append(a, readingOf(layout, 1000 + i * 20, [1 + i / 1000]), i);
        if (i % 100 < 30) store.samples.append(b, readingOf(layout, 5000 + i * 20, [2 + i / 1000]), i);
        if (i % 77 === 0) store.tick(i);
      }
      const ofA = await store.columns.readings(a, 0, 1000, ['d']);
      const ofB = await store.columns.readings(b, 0, 1000, ['d']);
      expect([...ofA.values.d!]).toStrictEqual(Array.from({ length: 300 }, (_, i) => 1 + i / 1000));
      expect(ofB.timeMs.length).toBe(90);
      expect(Math.min(...ofB.values.d!)).toBe(2);
      expect((await store.columns.extent(b))!.fromMs).toBe(5000);
      expect(await store.columns.extent(beginRun(store))).toBeNull();
    });
  });

  it('rounds times to 0.1 ms and lengths to 0.01 mm, and never lets them decrease', async () => {
    await withStore(async (store) => {
      const runId = beginRun(store);
      const layout = layoutOf(['d']);
      const sent = [
        [100.04, 1.004],
        [100.041, 1.0041],
        [100.2, 1],
        [150.26, 7.236],
      ] as const;
      for (const [timeMs, gaugeMm] of sent) store.samples.append(runId, readingOf(layout, timeMs, [1.75]), gaugeMm);
      const { timeMs, gaugeMm } = await store.columns.readings(runId, 0, 10, []);
      expect([...timeMs]).toStrictEqual([100, 100.1, 100.2, 150.3]);
      expect([...gaugeMm]).toStrictEqual([1, 1, 1, 7.24]);
      expect(() => store.samples.append(runId, readingOf(layout, Number.NaN, [1]), 8)).toThrow(TypeError);
      expect(() => store.samples.append(99, readingOf(layout, 1, [1]), 8)).toThrow('There is no run 99.');
    });
  });

  it('takes at most 6 bytes per reading of 8 channels, including summaries and indexes', async () => {
    // Do not count the pages that an empty record has as well.
    let emptyBytes = 0;
    await withStore(async (store) => {
      beginRun(store);
      await store.close();
      emptyBytes = store.sizeBytes();
    });
    await withStore(async (store) => {
      const runId = beginRun(store);
      const layout = layoutOf(['d', 't1', 's1', 'p1', 't2', 's2', 'p2', 'v']);
      const g = gauss(7);
      const n = 90_000;
      let gaugeMm = 0;
      let drift = 0;
      for (let i = 0; i < n; i++) {
        drift = drift * 0.999 + g() * 0.0006;
        const v = 35 + 0.1 * Math.sin(i / 500) + 0.05 * g();
        gaugeMm += v * 0.02;
        const values = [
          Math.round((1.75 + drift + 0.012 * g()) * 1000) / 1000,
          Math.round((200 + 0.4 * Math.sin(i / 900) + 0.08 * g()) * 10) / 10,
          200,
          Math.round((0.45 + 0.1 * Math.sin(i / 900 + 1) + 0.01 * g()) * 100) / 100,
          Math.round((205 + 0.3 * Math.sin(i / 1100) + 0.08 * g()) * 10) / 10,
          205,
          Math.round((0.4 + 0.1 * Math.sin(i / 1100 + 1) + 0.01 * g()) * 100) / 100,
          Math.round(v * 10) / 10,
        ];
        store.samples.append(runId, readingOf(layout, 1_750_000_000_000 + i * 20 + 0.06 * g(), values), gaugeMm);
        if (i % 5000 === 0) store.tick(i * 20);
      }
      store.samples.flush();
      await store.close();
      expect((store.sizeBytes() - emptyBytes) / n).toBeLessThan(6);
    });
  });
});
