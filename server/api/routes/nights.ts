import type { OtherLines } from '../../front/other-lines.ts';
import type { SpoolAnalyst } from '../../monitor/analysis/spool-analyst.ts';
import type { LineValues } from '../../monitor/run/line-values.ts';
import type { SpoolRepository } from '../../monitor/spool/spool-repository.ts';
import { TrendsView } from '../contract/nights.ts';
import { effectsView } from '../effects-view.ts';
import { answerReader } from '../line-reader.ts';
import { nightOf, nightsOfLines } from '../nights-of-lines.ts';
import { nightsOfRuns } from '../nights-of-runs.ts';
import type { RecordViews } from '../record-views.ts';
import { type Api, serve } from '../serve.ts';
import { trendsView } from '../trends-view.ts';

export interface NightParts {
  readonly views: RecordViews;
  readonly spools: SpoolRepository;
  readonly lineValues: LineValues;
  readonly analyst: Pick<SpoolAnalyst, 'effects' | 'trends'>;
  readonly others: OtherLines;
  /** Name of this line. */
  name(): string;
}

const readTrends = answerReader(TrendsView);

/** What many nights show together, also those of other lines. */
export function nightRoutes(api: Api, parts: NightParts): void {
  const { others, analyst } = parts;

  serve(api, 'GET /api/nights', async () => (await nightsOfRuns(parts)).map(nightOf));

  serve(api, 'GET /api/effects', async ({ query: { lines } }) => {
    const nights = (await nightsOfRuns(parts)).map(nightOf);
    if (lines === 'this') return effectsView(await analyst.effects(nights), nights, []);
    const all = await nightsOfLines({ name: parts.name(), nights }, others);
    return effectsView(await analyst.effects(all.nights), all.nights, all.notAnswered);
  });

  serve(api, 'GET /api/trends', async () => trendsView(await nightsOfRuns(parts), analyst));

  serve(api, 'GET /api/lines/:id/trends', async ({ params }) => readTrends(await others.ask(params.id, '/api/trends')));
}
