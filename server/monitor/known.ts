import { Problem } from '../problem/problem.ts';
import type { RecordReader, Run, Spool } from './ports.ts';

const REMEDY = 'Open the list of runs and choose one there.';

/** @throws Problem `unknown-run` */
export function knownRun(reader: RecordReader, runId: number): Run {
  const run = reader.run(runId);
  if (run === null) throw new Problem('unknown-run', `There is no run ${runId}.`, REMEDY);
  return run;
}

/** @throws Problem `unknown-spool` */
export function knownSpool(reader: RecordReader, spoolId: number): Spool {
  const spool = reader.spool(spoolId);
  if (spool === null) throw new Problem('unknown-spool', `There is no spool ${spoolId}.`, REMEDY);
  return spool;
}

/** What was asked of a spool took a while. @throws Problem `wrong-state` where it lies elsewhere on the strand by now */
export function unmovedSpool(reader: RecordReader, asked: Spool): Spool {
  const now = knownSpool(reader, asked.id);
  if (now.startGaugeMm === asked.startGaugeMm && now.endGaugeMm === asked.endGaugeMm) return now;
  throw new Problem(
    'wrong-state',
    `Spool ${now.ordinal} became other meanwhile: it ended, or somebody said something of it on another screen.`,
    'Look at the spool again, then say it again.',
  );
}
