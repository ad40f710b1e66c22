import { join } from 'node:path';
import Sqlite from 'better-sqlite3';
import { afterAll, beforeAll, describe, expect, it, vi } from 'vitest';
import type { Printer } from '../../server/entities/printer.ts';
import type { SpoolAnalyst } from '../../server/monitor/analysis/spool-analyst.ts';
import type { Judgement } from '../../server/monitor/spool/judgement.ts';
import type { SpoolJudge } from '../../server/monitor/spool/spool-judge.ts';
import { spoolParts } from './spool-parts.ts';
import { type WatchedLine, watchLine } from './watched-line.ts';

const NARROW: Omit<Printer, 'id'> = {
  name: 'Narrow',
  hotendLimitMm: 1.85,
  leastFeedableMm: 1.65,
  toleranceMm: 0.04,
  note: '',
};
const MS_PER_MM = 50;

let line: WatchedLine;
/** How many readings each question to the record brought. */
let read: number[] = [];

/** The judge as the service has it, as if it had just been started: it remembers nothing. */
function judgeOf(): { judge: SpoolJudge; analyst: SpoolAnalyst } {
  const { columns } = line.store;
  return spoolParts(line, {
    window: (query) => columns.window(query),
    windowBytes: (query, pack) => columns.windowBytes(query, pack),
    extent: (runId) => columns.extent(runId),
    piece: (...asked) => columns.piece(...asked),
    readings: async (...asked) => {
      const found = await columns.readings(...asked);
      read.push(found.timeMs.length);
      return found;
    },
  });
}

/** A reading a millimetre, with a hump of 1.87 mm every so often: too thick for the narrow printer alone. */
function feed(fromMm: number, toMm: number): void {
  for (let mm = fromMm + 1; mm <= toMm; mm++) {
    const d = mm % 1500 < 6 ? 1.87 : 1.75 + 0.004 * Math.sin(mm * 12.9898);
    line.feed(`ms=${mm * MS_PER_MM} n=${mm} d=${d.toFixed(3)} v=20 len=${mm}\n`);
  }
}

const facts = ({ sections, totals, kept, verdict, basis }: Judgement) => ({ sections, totals, kept, verdict, basis });
async function once<T>(ask: (judge: SpoolJudge) => Promise<T>): Promise<T> {
  const { judge, analyst } = judgeOf();
  try {
    return await ask(judge);
  } finally {
    await analyst.stop();
  }
}

beforeAll(() => {
  line = watchLine({ gaugeToWinderMm: 1000 });
  feed(0, 2000);
  line.monitor.setStage('winding', 'test');
});
afterAll(() => line.remove());

describe('a spool that grows', () => {
  it('is read once: what comes later is read from where reading stopped, and gives the same as the whole', async () => {
    line.store.spoolStatements.addPrinter(NARROW, 0);
    line.store.spoolStatements.choose(
      1,
      { printerId: 1, objective: 'mostLength', shortestMm: 500, doubtful: 'cut', unknown: 'cut' },
      0,
      'test',
    );
    const { judge, analyst } = judgeOf();
    read = [];
    let grown: Judgement | null = null;
    let examined = 0;
    for (let mm = 2000; mm < 12_000; mm += 500) {
      feed(mm, mm + 500);
      line.store.samples.flush();
      grown = await judge.judge(1);
      examined = (await judge.examine(grown)).readings;
    }
    expect(grown!.basis).toBe('readings');
    // A reading a millimetre: each was read once, but for those on the seams.
    expect(read.length).toBeGreaterThan(15);
    expect(read.reduce((sum, n) => sum + n, 0)).toBeLessThan(12_000 + 5 * read.length);
    expect(examined).toBeGreaterThan(0.9 * grown!.woundMm);
    const whole = await once((other) => other.judge(1));
    expect(facts(grown!)).toEqual(facts(whole));
    expect(grown!.sections.filter(({ kind }) => kind === 'blob').length).toBeGreaterThan(5);
    await analyst.stop();
  });
});

describe('what was read of a spool', () => {
  it('is kept, and holds as long as nothing that it rests on changes', async () => {
    line.monitor.setStage('stopped', 'test');
    read = [];
    const first = await once(async (judge) => judge.examine(await judge.judge(1)));
    expect(read.length).toBe(1);
    const again = await once(async (judge) => judge.examine(await judge.judge(1)));
    expect([read.length, again]).toEqual([1, first]);
    // A statement changes the judgement, but nothing has to be read for it.
    const blob = first.found.find(({ kind }) => kind === 'blob')!;
    const { kind, fromMm, toMm } = blob;
    const said = { measuredOrdinal: null, about: { kind, fromMm, toMm }, fromMm, toMm, note: '', atTimeMs: 1e12 };
    line.store.writer.saveStatedSection(1, { ...said, verdict: 'good', removed: false }, null);
    const stated = await once((judge) => judge.judge(1));
    expect(stated.sections.filter(({ origin }) => origin === 'adjusted')).toMatchObject([{ fromMm, verdict: 'good' }]);
    expect(read.length).toBe(1);
    // Other limits of the printer: once more, and not again when they are as before.
    const { spoolStatements: statements } = line.store;
    statements.changePrinter({ ...NARROW, id: 1, hotendLimitMm: 1.88 }, 0);
    const wide = await once((judge) => judge.judge(1));
    expect([read.length, wide.sections.some(({ kind }) => kind === 'blob')]).toEqual([2, false]);
    statements.changePrinter({ ...NARROW, id: 1 }, 0);
    expect(facts(await once((judge) => judge.judge(1)))).toEqual(facts(stated));
    expect(read.length).toBe(2);
  });

  it('is read once for all who ask at the same moment', async () => {
    const { spoolStatements: statements } = line.store;
    statements.changePrinter({ ...NARROW, id: 1, toleranceMm: 0.03 }, 0);
    read = [];
    const { judge, analyst } = judgeOf();
    const asked = vi.spyOn(analyst, 'ask');
    const judged = await Promise.all(Array.from({ length: 6 }, () => judge.judge(1)));
    expect([read.length, asked.mock.calls.length]).toEqual([1, 1]);
    expect(new Set(judged).size).toBe(1);
    await analyst.stop();
    statements.changePrinter({ ...NARROW, id: 1 }, 0);
  });

  it.each([
    ['half written', (payload: string) => payload.slice(0, payload.length / 2)],
    ['of another form', () => '{"found":"none"}'],
    ['no object', () => 'null'],
  ])('is made again where it is %s', async (_what, damage) => {
    const before = facts(await once((judge) => judge.judge(1)));
    const db = new Sqlite(join(line.folder, 'strandward.sqlite'));
    const rows = db.prepare<[], { inputs: string; payload: string }>('SELECT inputs, payload FROM examination').all();
    expect(rows.length).toBeGreaterThan(0);
    for (const { inputs, payload } of rows)
      db.prepare('UPDATE examination SET payload = ? WHERE inputs = ?').run(damage(payload), inputs);
    db.close();
    read = [];
    expect(facts(await once((judge) => judge.judge(1)))).toEqual(before);
    expect(read.length).toBe(1);
  });

  it('outlives its readings, however many printers the spool was judged for', async () => {
    const { spoolStatements: statements, maintenance } = line.store;
    const answers = () =>
      once(async (judge) => {
        const judged = await judge.judge(1);
        const night = await judge.judgeByNight(judged.on);
        return [facts(judged), await judge.examine(judged), await judge.examine(night)];
      });
    const before = await answers();
    for (let i = 1; i <= 6; i++) {
      statements.changePrinter({ ...NARROW, id: 1, hotendLimitMm: 1.85 + i / 100 }, 0);
      await once((judge) => judge.judge(1));
    }
    statements.changePrinter({ ...NARROW, id: 1 }, 0);
    while (maintenance.thinStep(8e15, 1e12) !== null);
    expect(await answers()).toEqual(before);
  });
});
