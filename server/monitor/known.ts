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
