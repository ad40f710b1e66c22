import { expect, it } from 'vitest';
import { logUnrecordedSignals } from '../../server/monitor/run/unrecorded-signals.ts';
import { beginRun, layoutOf, readingOf, withStore } from './readings.ts';

/** A connection sends up to 128 names; with other reading rules or another sketch, the same run may continue with other names. */
const A_CONNECTION = 103;
const CONNECTIONS = 11;
const READINGS = 300;
const MOST = 1022;

it('a run with more signals than it can hold keeps the first ones complete, and reports which it leaves out', async () => {
  const left: string[] = [];
  let most = 0;
  let reports = 0;
  await withStore(
    async (store) => {
      const runId = beginRun(store);
      const all = Array.from({ length: A_CONNECTION * CONNECTIONS }, (_, i) => `c${i}`);
      for (let connection = 0; connection < CONNECTIONS; connection++) {
        const layout = layoutOf(all.slice(connection * A_CONNECTION, (connection + 1) * A_CONNECTION));
        for (let i = 0; i < READINGS; i++) {
          const at = connection * READINGS + i;
          const values = layout.signals.map((_, c) => c + i / 8);
          store.samples.append(runId, readingOf(layout, 1_750_000_000_000 + at * 20, values), at);
        }
        // The same names are not reported again.
        store.samples.append(
          runId,
          readingOf(
            layoutOf(layout.signals.map(({ name }) => name)),
            1_750_000_000_000 + (connection + 1) * READINGS * 20 - 1,
            [],
          ),
          (connection + 1) * READINGS - 1,
        );
        store.samples.flush();
      }
      expect(left).toEqual(all.slice(MOST));
      expect(most).toBe(MOST);
      expect(reports).toBe(2);
      const wanted = ['c0', `c${MOST - 1}`, `c${MOST}`];
      const { timeMs, values } = await store.columns.readings(runId, 0, 1e9, wanted);
      expect(timeMs).toHaveLength(CONNECTIONS * (READINGS + 1));
      const kept = (name: string) => values[name]!.filter((value) => !Number.isNaN(value));
      const column = (MOST - 1) % A_CONNECTION;
      expect([...kept('c0')]).toEqual(Array.from({ length: READINGS }, (_, i) => i / 8));
      expect([...kept(`c${MOST - 1}`)]).toEqual(Array.from({ length: READINGS }, (_, i) => column + i / 8));
      expect(kept(`c${MOST}`)).toHaveLength(0);
      expect((await store.columns.extent(runId))!.signals).toHaveLength(MOST);
      expect(await store.maintenance.check()).toEqual([]);
    },
    {
      leftOut: (what) => {
        reports += 1;
        left.push(...what.names);
        most = what.most;
      },
    },
  );
});

it('the report names some of the signals that are left out', () => {
  const warnings: string[] = [];
  const log = { info: () => {}, warn: (what: string) => void warnings.push(what), error: () => {} };
  const writer = { log: (entry: { what: string }) => ({ ...entry, id: warnings.push(entry.what) }) as never };
  logUnrecordedSignals({ runId: 3, names: ['a', 'b', 'c', 'd', 'e'], most: MOST }, { writer, log, nowMs: 0 });
  expect(warnings).toEqual(
    Array(2).fill(
      'A run holds at most 1,022 signals. Not recorded: a, b, c and 2 more. Does the line send garbled names?',
    ),
  );
});
