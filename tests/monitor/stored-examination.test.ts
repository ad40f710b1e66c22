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
  smallestFeedableMm: 1.65,
  toleranceMm: 0.04,
  note: '',
};
const MS_PER_MM = 50;

let line: WatchedLine;
/** Number of readings returned by each query of the record. */
let read: number[] = [];

/** The judge as just after the start of the service: nothing is cached. */
function judgeOf(): { judge: SpoolJudge; analyst: SpoolAnalyst } {
  const { columns } = line.store;
  return spoolParts(line, {
    window: (query) => columns.window(query),
    windowBytes: (query, pack) => columns.windowBytes(query, pack),
    extent: (runId) => columns.extent(runId),
    piece: (...query) => columns.piece(...query),
    readings: async (...query) => {
      const found = await columns.readings(...query);
      read.push(found.timeMs.length);
      return found;
    },
  });
}

/** One reading per millimetre, with blobs of 1.87 mm that are too thick only for the narrow printer. */
function feed(fromMm: number, toMm: number): void {
  for (let mm = fromMm + 1; mm <= toMm; mm++) {
    const d = mm % 1500 < 6 ? 1.87 + 0.001 * (mm % 2) : 1.75 + 0.004 * Math.sin(mm * 12.9898);
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

describe('a growing spool', () => {
  it('is read in pieces that give the same judgement as the whole', async () => {
    line.store.spoolStatements.addPrinter(NARROW, 0);
    line.store.spoolStatements.choose(
      1,
      { printerId: 1, objective: 'mostLength', prints: [], shortestMm: 500, doubtful: 'cut', unknown: 'cut' },
      0,
      'test',
    );
    const { judge, analyst } = judgeOf();
    read = [];
    const growTo = async (mm: number) => {
      feed(mm - 500, mm);
      line.store.samples.flush();
      const judgement = await judge.judge(1);
      return { judgement, examined: (await judge.examine(judgement)).readings };
    };
    for (let mm = 2500; mm < 12_000; mm += 500) await growTo(mm);
    const { judgement: grown, examined } = await growTo(12_000);
    expect(grown.basis).toBe('readings');
    // One reading per millimetre, each read once except at the edges of pieces.
    expect(read.length).toBeGreaterThan(15);
    expect(read.reduce((sum, n) => sum + n, 0)).toBeLessThan(12_000 + 5 * read.length);
    expect(examined).toBeGreaterThan(0.9 * grown.woundMm);
    const whole = await once((other) => other.judge(1));
    expect(facts(grown)).toEqual(facts(whole));
    expect(grown.sections.filter(({ kind }) => kind === 'blob').length).toBeGreaterThan(5);
    await analyst.stop();
  });
});

describe('the examination of a spool', () => {
  it('is stored and used until one of its inputs changes', async () => {
    line.monitor.setStage('stopped', 'test');
    read = [];
    const first = await once(async (judge) => judge.examine(await judge.judge(1)));
    expect(read.length).toBe(1);
    const again = await once(async (judge) => judge.examine(await judge.judge(1)));
    expect([read.length, again]).toEqual([1, first]);
    // A statement changes the judgement, but no readings are needed.
    const blob = first.found.find(({ kind }) => kind === 'blob');
    if (blob === undefined) throw new Error('There is no blob.');
    const { kind, fromMm, toMm } = blob;
    const statement = { measuredOrdinal: null, about: { kind, fromMm, toMm }, fromMm, toMm, note: '', atTimeMs: 1e12 };
    line.store.writer.saveStatedSection(1, { ...statement, verdict: 'good', removed: false }, null);
    const stated = await once((judge) => judge.judge(1));
    expect(stated.sections.filter(({ origin }) => origin === 'adjusted')).toMatchObject([{ fromMm, verdict: 'good' }]);
    expect(read.length).toBe(1);
    // New limits of the printer need another reading, the previous ones do not.
    const { spoolStatements: statements } = line.store;
    statements.changePrinter({ ...NARROW, id: 1, hotendLimitMm: 1.88 }, 0);
    const wide = await once((judge) => judge.judge(1));
    expect([read.length, wide.sections.some(({ kind }) => kind === 'blob')]).toEqual([2, false]);
    statements.changePrinter({ ...NARROW, id: 1 }, 0);
    expect(facts(await once((judge) => judge.judge(1)))).toEqual(facts(stated));
    expect(read.length).toBe(2);
  });

  it('is made once for simultaneous requests', async () => {
    const { spoolStatements: statements } = line.store;
    statements.changePrinter({ ...NARROW, id: 1, toleranceMm: 0.03 }, 0);
    read = [];
    const { judge, analyst } = judgeOf();
    const ask = vi.spyOn(analyst, 'ask');
    const judged = await Promise.all(Array.from({ length: 6 }, () => judge.judge(1)));
    expect([read.length, ask.mock.calls.length]).toEqual([1, 1]);
    expect(new Set(judged.map(({ sections }) => sections)).size).toBe(1);
    await analyst.stop();
    statements.changePrinter({ ...NARROW, id: 1 }, 0);
  });

  it.each([
    ['incomplete', (payload: string) => payload.slice(0, payload.length / 2)],
    ['in another form', () => '{"found":"none"}'],
    ['not an object', () => 'null'],
  ])('is made again if it is %s', async (_what, damage) => {
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

  it('outlives its readings, even after judging for many printers', async () => {
    const { spoolStatements: statements, maintenance } = line.store;
    const answers = () =>
      once(async (judge) => {
        const judged = await judge.judge(1);
        const night = await judge.judgeAsWound(judged.woundSpool);
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
