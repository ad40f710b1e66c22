import { partsOfRef } from '../entities/run-ref.ts';
import type { OtherLines } from '../front/other-lines.ts';
import { Problem } from '../problem/problem.ts';
import { listed } from '../problem/sentence.ts';
import { RunSummaryView } from './contract/comparison.ts';
import { answerReader } from './line-reader.ts';
import { titleOf } from './lines-view.ts';

const readSummary = answerReader(RunSummaryView);

/** A run of this line or another one, summarised. */
export interface SummarisedRun {
  readonly ref: string;
  readonly name: string;
  /** 0 = this line. */
  readonly line: number;
  readonly lineName: string;
  /** Of the page of its line; empty = this one. */
  readonly address: string;
  readonly summary: RunSummaryView;
}

/** This line. */
export interface OwnLine {
  readonly name: string;
  /** @throws Problem `unknown-run` */
  summarise(runId: number): Promise<RunSummaryView>;
}

interface Line {
  readonly id: number;
  readonly name: string;
  readonly address: string;
  summarise(runId: number): Promise<RunSummaryView>;
}

/**
 * Summarises runs of this line and of others. A line is asked for one run at a time, because each may keep its worker busy,
 * and no more once it does not answer.
 * @param limits of the printer that they are judged for, as `GET /api/runs/:id/summary` takes them; null = of each line itself
 * @returns the same groups without the runs of other lines that are missing, and why these are
 * @throws Problem `unknown-run` for a run of this line
 */
export async function runsOfLines(
  groups: readonly (readonly string[])[],
  own: OwnLine,
  others: OtherLines,
  limits: string | null,
): Promise<{ readonly groups: readonly (readonly SummarisedRun[])[]; readonly notAnswered: readonly string[] }> {
  const asked = groups.flat().map((ref) => ({ ref, ...partsOfRef(ref) }));
  const lines = [...new Set(asked.map(({ lineId }) => lineId))].map((id) => lineOf(id, own, others, limits));
  const isAlone = lines.every(({ id }) => id === 0);
  const found = new Map<string, SummarisedRun>();
  const missing = new Map<string, string[]>();
  const ask = async (line: Line) => {
    let silent: Problem | null = null;
    for (const { ref, runId } of asked.filter(({ lineId }) => lineId === line.id)) {
      const name = isAlone ? `run ${runId}` : `run ${runId} of ${line.name}`;
      try {
        if (silent !== null) throw silent;
        const summary = await line.summarise(runId);
        found.set(ref, { ref, name, line: line.id, lineName: line.name, address: line.address, summary });
      } catch (thrown) {
        if (line.id === 0 || !(thrown instanceof Problem)) throw thrown;
        if (thrown.code === 'line-failed') silent = thrown;
        missing.set(thrown.message, [...(missing.get(thrown.message) ?? []), name]);
      }
    }
  };
  await Promise.all(lines.map(ask));
  return {
    groups: groups.map((refs) => refs.flatMap((ref) => found.get(ref) ?? [])).filter((runs) => runs.length > 0),
    notAnswered: [...missing].map(([why, names]) => `${listed(names)}: ${why}`),
  };
}

function lineOf(id: number, own: OwnLine, others: OtherLines, limits: string | null): Line {
  if (id === 0) return { id, address: '', ...own, name: own.name || 'this line' };
  const feeds = others.feeds();
  const feed = feeds.find(({ line }) => line.id === id);
  const query = limits === null ? '' : `?limits=${limits}`;
  return {
    id,
    name: feed === undefined ? `line ${id}` : titleOf(feed, { ownName: own.name, feeds }),
    address: feed?.line.address ?? '',
    summarise: async (runId) => readSummary(await others.ask(id, `/api/runs/${runId}/summary${query}`)),
  };
}
