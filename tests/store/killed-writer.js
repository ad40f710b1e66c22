// Writes a run as fast as possible until it is killed: 50 readings and a tick, as in one second of a run, and at times a
// user's entry. Prints what was acknowledged once the call has returned.
import { writeSync } from 'node:fs';

const [, , storeUrl, folder] = process.argv;
const { openStore } = await import(storeUrl);
const store = openStore({ folder });
const names = ['d', 't1', 's1', 'p1', 'v'];
const layout = { signals: names.map((name) => ({ name, role: null, unit: '' })) };
const unfinished = store.writer.unfinishedRun();
const runId =
  unfinished?.run.id ??
  store.writer.beginRun({ startedMs: 1_750_000_000_000, timeZone: 'UTC', sourceTitle: 'killed line' }).id;
let i = unfinished?.last ? Math.round((unfinished.last.timeMs - 1_750_000_000_000) / 20) + 1 : 0;
const say = (text) => writeSync(1, `${text}\n`);
say(`opened ${i}`);
for (;;) {
  for (let k = 0; k < 50; k++, i++) {
    const values = [
      1.7 + (i % 100) / 1000,
      200 + (i % 7) / 10,
      200,
      (i % 50) / 100,
      i % 11 === 0 ? Number.NaN : i / 10,
    ];
    const reading = { timeMs: 1_750_000_000_000 + i * 20, layout, values, lostBefore: 0, restarted: false };
    store.samples.append(runId, reading, i / 2);
    if (k === 20) {
      const section = { measuredOrdinal: null, fromMm: i, toMm: i + 1, verdict: 'discard', note: `at ${i}` };
      const word = store.writer.saveStatedSection(
        runId,
        { ...section, removed: false, about: null, atTimeMs: i },
        null,
      );
      say(`word ${word.id} ${i}`);
    }
  }
  // The second is over.
  say(`appended ${i}`);
  store.tick(i * 20);
  say(`ticked ${i}`);
}
