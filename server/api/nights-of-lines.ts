import type { OtherLines } from '../front/other-lines.ts';
import { LINE_FIELD, type Night } from '../nights/outcomes.ts';
import { Problem } from '../problem/problem.ts';
import { NightView } from './contract/nights.ts';
import { list } from './contract/schema.ts';
import { answerReader } from './line-reader.ts';
import { titleOf } from './lines-view.ts';
import type { NightOfRun } from './nights-of-runs.ts';

const readNights = answerReader(list(NightView));

export function nightOf({ view, values }: NightOfRun): Night {
  return {
    values,
    blobs: view.blobs,
    measuredMm: view.woundMm - view.unknownMm,
    keptShare: view.woundMm > 0 ? view.keptMm / view.woundMm : 0,
    diameterSdMm: view.diameterSdMm,
  };
}

/** The nights of all lines of the house, each with its line as a field, and why some lines are missing. */
export async function nightsOfLines(
  own: { readonly name: string; readonly nights: readonly Night[] },
  others: OtherLines,
): Promise<{ readonly nights: Night[]; readonly notAnswered: string[] }> {
  const notAnswered: string[] = [];
  const asked = others.feeds().map(async (feed) => {
    const name = titleOf(feed, { ownName: own.name, feeds: others.feeds() });
    try {
      return { name, nights: readNights(await others.ask(feed.line.id, '/api/nights')) };
    } catch (thrown) {
      if (!(thrown instanceof Problem)) throw thrown;
      notAnswered.push(`${name}: ${thrown.message}`);
      return { name, nights: [] };
    }
  });
  const lines = [own, ...(await Promise.all(asked))];
  return {
    nights: lines.flatMap(({ name, nights }) =>
      nights.map((night) => ({ ...night, values: { ...night.values, [LINE_FIELD]: name } })),
    ),
    notAnswered,
  };
}
