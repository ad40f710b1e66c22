import type { LineValues } from '../monitor/run/line-values.ts';
import type { SpoolRepository } from '../monitor/spool/spool-repository.ts';
import type { Values } from '../preparation/fields.ts';
import { inTurns } from '../worker/in-turns.ts';
import type { RunView } from './contract/runs-and-spools.ts';
import type { RecordViews } from './record-views.ts';

/** A run that says something about the line, and its preparation: as entered, and as the line sent it. */
export interface NightOfRun {
  readonly view: RunView;
  readonly values: Values;
}

/** Ended runs without examples and tests, newest first. */
export async function nightsOfRuns(parts: {
  readonly views: RecordViews;
  readonly spools: SpoolRepository;
  readonly lineValues: LineValues;
}): Promise<NightOfRun[]> {
  const nights: NightOfRun[] = [];
  for await (const view of inTurns(await parts.views.runs())) {
    if (view.example || view.isTest || view.endedMs === null) continue;
    const sent = await parts.lineValues.of(parts.spools.run(view.id));
    nights.push({ view, values: { ...view.lot?.values, ...sent } });
  }
  return nights;
}
