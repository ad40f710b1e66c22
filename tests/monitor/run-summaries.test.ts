import { expect, it } from 'vitest';
import type { Printer, RecordReader, Run, SampleReader, Spool } from '../../server/monitor/ports.ts';
import { RunSummaries } from '../../server/monitor/run-summaries.ts';
import type { SpoolAnalyst } from '../../server/monitor/spool-analyst.ts';
import { defaultLineSettings } from '../../server/settings/check-line-settings.ts';
import { USUAL_LIMITS } from '../strand/usual-limits.ts';

const RUN: Run = { id: 1, startedMs: 0, endedMs: null, timeZone: 'UTC', sourceTitle: '', note: '', lot: null };
const SPOOL: Spool = {
  id: 1,
  runId: 1,
  ordinal: 1,
  startGaugeMm: 0,
  endGaugeMm: 40_000,
  startedMs: 0,
  endedMs: 1_000_000,
  note: '',
};

it('a spool of a run that goes on is summed up anew: its last second may not have been written yet', async () => {
  let keptMm = 39_000;
  let asked = 0;
  const analyst: Partial<SpoolAnalyst> = {
    caseOf: () => ({
      name: 'R1-1',
      startGaugeMm: 0,
      endGaugeMm: 40_000,
      lengthFactor: 1,
      lengthShare: 0,
      limits: USUAL_LIMITS,
      printerName: '',
      recorded: [],
      stated: [],
      densityGPerCm3: 1.24,
      shortestCoilMm: 1000,
    }),
    ask: (async () => {
      asked++;
      return { woundMm: 40_000, stretches: [], tally: null, keptMm, coils: 1, longestCoilMm: keptMm };
    }) as unknown as SpoolAnalyst['ask'],
  };
  const reader: Partial<RecordReader> = { spools: () => [SPOOL], alarmJournal: () => [], runSettings: () => [] };
  const samples: Partial<SampleReader> = {
    window: async () => ({ axis: 'length', from: 0, to: 0, count: [], timeMs: [], gaugeMm: [], channels: {} }),
  };
  const summaries = new RunSummaries({
    analyst: analyst as SpoolAnalyst,
    reader: reader as RecordReader,
    samples: samples as SampleReader,
    settings: defaultLineSettings,
  });
  const kept = async (run: Run) => (await summaries.of(run, {} as Printer, 2_000_000)).figures.keptMm;
  expect(await kept(RUN)).toBe(39_000);
  keptMm = 39_500;
  expect(await kept(RUN)).toBe(39_500);
  const ended = { ...RUN, endedMs: 1_500_000 };
  expect([await kept(ended), await kept(ended), asked]).toEqual([39_500, 39_500, 3]);
});
