import type { Clock } from '../../monitor/clock.ts';
import type { PrinterService } from '../../monitor/printer-service.ts';
import type { RunSummaries } from '../../monitor/run/run-summaries.ts';
import type { SpoolRepository } from '../../monitor/spool/spool-repository.ts';
import { Problem, within } from '../../problem/problem.ts';
import { comparisonView } from '../comparison-view.ts';
import { type Api, serve } from '../serve.ts';

const GROUPS_MAX = 6;
const RUNS_MAX = 24;

export interface ComparisonParts {
  readonly spools: SpoolRepository;
  readonly summaries: RunSummaries;
  readonly printers: PrinterService;
  readonly clock: Clock;
}

/** Comparison of runs: what was prepared differently, and how the results differ. */
export function comparisonRoutes(api: Api, { spools, summaries, printers, clock }: ComparisonParts): void {
  serve(api, 'GET /api/comparison', async ({ query }) => {
    const groups = groupsOf(query.groups);
    const printer = within('/printer', () => printers.find(query.printer));
    const runs = within('/groups', () => groups.map((ids) => ids.map((id) => spools.run(id))));
    const nowMs = clock();
    const summed = [];
    for (const group of runs) {
      const summarised = [];
      // One at a time, because each may keep the worker busy.
      for (const run of group) summarised.push(await summaries.of(run, printer, nowMs));
      summed.push(summarised);
    }
    return comparisonView(summed, printer.id);
  });
}

function groupsOf(text: string): number[][] {
  const groups = text.split(';').map((ids) => ids.split(',').map(Number));
  const all = groups.flat();
  if (groups.length < 2 || groups.length > GROUPS_MAX || all.length > RUNS_MAX) {
    throw new Problem(
      'bad-comparison',
      `${groups.length} groups with ${all.length} runs cannot be compared.`,
      `Give 2 to ${GROUPS_MAX} groups with at most ${RUNS_MAX} runs in all, such as 3,5;4,6.`,
      { pointer: '/groups' },
    );
  }
  if (new Set(all).size < all.length)
    throw new Problem('bad-comparison', 'A run is listed twice.', 'List each run once, in one group.', {
      pointer: '/groups',
    });
  return groups;
}
