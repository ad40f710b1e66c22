import type { RunView } from '../../server/api/contract/runs-and-spools.ts';
import { unreadableText } from '../format/names.ts';
import { clock, dayOfYear, span } from '../format/times.ts';
import { listKind } from '../list/record-list.tsx';
import { troubleText, verdictWord } from './verdict-text.ts';

/** What the list of runs shows and finds. */
export const RUNS = listKind<RunView>(
  'run',
  {
    verdict: (run) => verdictWord(run).text,
    more: ({ id, isTest }) => `run ${id} r${id} ${isTest ? 'test' : ''}`,
  },
  (run) => ({
    href: `/runs/${run.id}`,
    title: run.title || `Run ${run.id}`,
    mark: run.isTest ? 'Test' : '',
    example: run.example,
    fine: [
      ...(run.title === '' ? [] : [`Run ${run.id}`]),
      dayOfYear(run.startedMs, run.timeZone),
      clock(run.startedMs, run.timeZone),
      run.endedMs === null ? 'still going' : span(run.endedMs - run.startedMs),
    ].join(', '),
    verdict: verdictWord(run),
    reason: [
      run.verdict.reason,
      troubleText(run),
      run.unreadableRows > 0 ? `${unreadableText(run.unreadableRows)}.` : '',
    ]
      .filter(Boolean)
      .join(' '),
  }),
);
