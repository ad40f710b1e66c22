import type { Printer } from '../../entities/printer.ts';
import type { Run } from '../../entities/run.ts';
import { partsOfRef, refOf } from '../../entities/run-ref.ts';
import type { OtherLines } from '../../front/other-lines.ts';
import type { Clock } from '../../monitor/clock.ts';
import type { PrinterService } from '../../monitor/printer-service.ts';
import type { RunSummaries } from '../../monitor/run/run-summaries.ts';
import type { SpoolRepository } from '../../monitor/spool/spool-repository.ts';
import { Problem, within } from '../../problem/problem.ts';
import { LINE_PRINTER_ID } from '../../strand/verdict/printer-profile.ts';
import { comparisonView } from '../comparison-view.ts';
import { runSummaryView } from '../run-summary-view.ts';
import { runsOfLines } from '../runs-of-lines.ts';
import { type Api, serve } from '../serve.ts';

const GROUPS_MAX = 6;
const RUNS_MAX = 24;

export interface ComparisonParts {
  readonly spools: SpoolRepository;
  readonly summaries: RunSummaries;
  readonly printers: PrinterService;
  readonly clock: Clock;
  readonly others: OtherLines;
  /** Name of this line. */
  name(): string;
}

/** Comparison of runs: what was prepared differently, and how the results differ. */
export function comparisonRoutes(api: Api, parts: ComparisonParts): void {
  const { spools, summaries, printers, clock, others } = parts;
  const summarise = async (run: Run, printer: Printer) => runSummaryView(await summaries.of(run, printer, clock()));

  serve(api, 'GET /api/runs/:id/summary', ({ params, query }) =>
    summarise(
      spools.run(params.id),
      query.limits === undefined ? printers.find(LINE_PRINTER_ID) : printerOf(query.limits),
    ),
  );

  serve(api, 'GET /api/comparison', async ({ query }) => {
    const asked = groupsOf(query.groups);
    const printer = within('/printer', () => printers.find(query.printer));
    const own = {
      name: parts.name(),
      summarise: (runId: number) =>
        summarise(
          within('/groups', () => spools.run(runId)),
          printer,
        ),
    };
    const limits = printer.id === LINE_PRINTER_ID ? null : limitsOf(printer);
    const { groups, notAnswered } = await runsOfLines(asked, own, others, limits);
    if (groups.length < 2)
      throw new Problem(
        'line-failed',
        `Nothing is left to compare without ${notAnswered.join(' ')}`,
        'Choose other runs.',
      );
    return comparisonView(groups, printer.id, notAnswered);
  });
}

/** Of another line: it is named in what cannot be judged by its limits. */
function printerOf(limits: string): Printer {
  const [hotendLimitMm = 0, smallestFeedableMm = 0, toleranceMm = 0] = limits.split(',').map(Number);
  return { id: -1, name: 'chosen on the other line', note: '', hotendLimitMm, smallestFeedableMm, toleranceMm };
}

function limitsOf({ hotendLimitMm, smallestFeedableMm, toleranceMm }: Printer): string {
  return [hotendLimitMm, smallestFeedableMm, toleranceMm].join(',');
}

/** As links name them: 0:3 is 3. */
function groupsOf(text: string): string[][] {
  const plain = (ref: string) => {
    const { lineId, runId } = partsOfRef(ref);
    return refOf(lineId, runId);
  };
  const groups = text.split(';').map((refs) => refs.split(',').map(plain));
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
