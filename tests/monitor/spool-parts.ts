import { SpoolAnalyst } from '../../server/monitor/analysis/spool-analyst.ts';
import type { SampleColumnsReader, SampleReader } from '../../server/monitor/ports/samples.ts';
import { SpoolJudge } from '../../server/monitor/spool/spool-judge.ts';
import { SpoolRepository } from '../../server/monitor/spool/spool-repository.ts';
import type { WatchedLine } from './watched-line.ts';

/** The parts that judge the spools of a line, as just after the start of the service: nothing is cached. */
export function spoolParts(
  { monitor, store }: WatchedLine,
  samples: SampleReader & SampleColumnsReader = store.columns,
) {
  const { reader, spoolStatements: statements } = store;
  const settings = () => monitor.settings;
  const spools = new SpoolRepository({
    reader,
    statements,
    settings,
    endGaugeMm: (spool) => monitor.endGaugeMm(spool),
    measuredSections: (runId) => monitor.measuredSections(runId),
  });
  const analyst = new SpoolAnalyst(samples);
  const log = { info: () => {}, warn: () => {}, error: () => {} };
  return { spools, analyst, judge: new SpoolJudge({ spools, analyst, samples, statements, log, settings }) };
}
