import { expect, it } from 'vitest';
import type { Printer } from '../../server/entities/printer.ts';
import type { Run } from '../../server/entities/run.ts';
import type { RecordReader } from '../../server/monitor/ports/record.ts';
import type { SampleReader } from '../../server/monitor/ports/samples.ts';
import { RunSummaries } from '../../server/monitor/run/run-summaries.ts';
import type { Judgement } from '../../server/monitor/spool/judgement.ts';
import type { SpoolJudge } from '../../server/monitor/spool/spool-judge.ts';
import type { SpoolRepository } from '../../server/monitor/spool/spool-repository.ts';
import { judged, RUN } from './judged-spool.ts';

it('does not cache a spool while its run continues, because its last second may not be stored yet', async () => {
  let calls = 0;
  let judgement: Judgement = judged();
  const judge: Partial<SpoolJudge> = {
    judgeFor: async () => judgement,
    ask: (async () => {
      calls++;
      return { stretches: [], tally: null };
    }) as unknown as SpoolJudge['ask'],
  };
  const spools: Partial<SpoolRepository> = { ofRun: () => [judgement.woundSpool] };
  const reader: Partial<RecordReader> = { alarmJournal: () => [] };
  const samples: Partial<SampleReader> = {
    window: async () => ({ axis: 'length', from: 0, to: 0, count: [], timeMs: [], gaugeMm: [], signals: {} }),
  };
  const summaries = new RunSummaries({
    spools: spools as SpoolRepository,
    judge: judge as SpoolJudge,
    reader: reader as RecordReader,
    samples: samples as SampleReader,
  });
  const keptMm = async (run: Run) => (await summaries.of(run, {} as Printer, 2_000_000)).figures.keptMm;
  expect(await keptMm(RUN)).toBe(judgement.kept?.keptMm);
  expect(await keptMm(RUN)).toBe(judgement.kept?.keptMm);
  expect(calls).toBe(2);
  const ended = { ...RUN, endedMs: 1_500_000 };
  judgement = judged({ run: ended });
  const { kept } = judgement;
  expect([await keptMm(ended), await keptMm(ended), calls]).toEqual([kept?.keptMm, kept?.keptMm, 3]);
});
