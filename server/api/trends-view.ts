import type { SpoolAnalyst } from '../monitor/analysis/spool-analyst.ts';
import { changesFrom, NIGHTS_NEEDED, type NightFigures } from '../nights/trend-figures.ts';
import type { TrendsView } from './contract/nights.ts';
import type { NightOfRun } from './nights-of-runs.ts';

/** @param given in any order */
export async function trendsView(
  given: readonly NightOfRun[],
  analyst: Pick<SpoolAnalyst, 'trends'>,
): Promise<TrendsView> {
  const wound = given
    .filter(({ view }) => view.woundMm > view.unknownMm)
    .toSorted((a, b) => a.view.startedMs - b.view.startedMs);
  const figures = wound.map(
    ({ view, values }): NightFigures => ({
      material: view.lot?.name ?? '',
      values,
      blobs: view.blobs,
      measuredMm: view.woundMm - view.unknownMm,
      woundMm: view.woundMm,
      keptMm: view.keptMm,
      diameterMeanMm: view.diameterMeanMm,
      diameterSdMm: view.diameterSdMm,
      troubles: view.trouble === null ? 0 : 1 + view.trouble.more,
    }),
  );
  return {
    needed: NIGHTS_NEEDED,
    nights: wound.map(({ view: { id, title, startedMs, timeZone } }, i) => ({
      runId: id,
      title,
      startedMs,
      timeZone,
      changes: i === 0 ? [] : [...changesFrom(figures[i - 1]!, figures[i]!)],
    })),
    figures: (await analyst.trends(figures)).map(({ key, values, p, periods }) => ({
      key,
      values: [...values],
      p,
      periods: periods.map((period) => ({ ...period, preparedOtherwise: [...period.preparedOtherwise] })),
    })),
  };
}
