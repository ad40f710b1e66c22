import { isExample } from '../../entities/run.ts';
import { FED_KG, preparationOnly, valuesText } from '../../preparation/fields.ts';
import type { FedRun } from '../../stock/yields.ts';
import { gramsOfLength } from '../../strand/mass.ts';
import { inTurns } from '../../worker/in-turns.ts';
import type { RecordReader } from '../ports/record.ts';
import { strandMass } from '../spool/judgement.ts';
import type { SpoolJudge } from '../spool/spool-judge.ts';
import type { SpoolRepository } from '../spool/spool-repository.ts';

/** Ended runs for which a user entered how much was fed, without examples and tests; wound and good strand by its mean diameter. */
export async function fedRuns(
  reader: RecordReader,
  spools: SpoolRepository,
  judge: SpoolJudge,
): Promise<readonly FedRun[]> {
  const runs: FedRun[] = [];
  for await (const run of inTurns(reader.runs())) {
    const fedKg = run.lot?.values[FED_KG];
    if (typeof fedKg !== 'number' || run.lot === null || run.endedMs === null || run.isTest || isExample(run)) continue;
    let [woundKg, goodKg] = [0, 0];
    for (const { spool } of spools.ofRun(run)) {
      const judged = await judge.judge(spool.id);
      const { meanDiameterMm, limits, kept, woundMm } = judged;
      const { densityGPerCm3 } = strandMass(judged, meanDiameterMm);
      const kgPerMm = gramsOfLength(1, meanDiameterMm ?? limits.nominalMm, densityGPerCm3) / 1000;
      woundKg += woundMm * kgPerMm;
      goodKg += (kept?.keptMm ?? 0) * kgPerMm;
    }
    const { name, preparation, values } = run.lot;
    const words = [valuesText(preparationOnly(values)), preparation].filter(Boolean).join(', ');
    runs.push({ runId: run.id, preparation: [name, words].filter(Boolean).join(': '), fedKg, woundKg, goodKg });
  }
  return runs;
}
