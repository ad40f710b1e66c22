import type { RunDetail, RunView, SpoolView } from '../../server/api/contract/runs-and-spools.ts';
import { counted, metres, unbroken } from '../format/numbers.ts';
import { clock, day, span } from '../format/times.ts';
import { lineNowMs } from '../service/live-store.ts';
import { ExampleMark } from '../shell/example-mark.tsx';
import { Shape } from '../shell/shape.tsx';
import { troubleText, verdictWord } from './verdict-text.ts';

/** The verdict on a run in one word, why, what is kept, and the one thing to do now. */
export function RunHead({ run, spools }: Pick<RunDetail, 'run' | 'spools'>) {
  const word = verdictWord(run);
  const trouble = troubleText(run);
  const action = nextAction(run, spools);
  return (
    <header class="page-head run-head">
      <p class="run-date">
        {run.title && `${run.title}. `}Run {run.id}. {day(run.startedMs, run.timeZone)},{' '}
        {clock(run.startedMs, run.timeZone)} to {run.endedMs === null ? 'now' : clock(run.endedMs, run.timeZone)},{' '}
        {span((run.endedMs ?? lineNowMs.value) - run.startedMs)}
        {run.example && <ExampleMark explained />}
        {run.isTest && <span class="example-mark">Test</span>}
      </p>
      <h1 class="run-word" data-testid="verdict">
        <Shape of={word.shape} size={34} /> {word.text}
      </h1>
      <p class="run-reason">
        {unbroken(run.verdict.reason)} {trouble && <span data-testid="trouble">{trouble}</span>}
      </p>
      {run.woundMm > 0 && (
        <dl class="totals">
          <Total
            name={run.endedMs === null ? 'Kept so far' : 'Kept'}
            value={`${metres(run.keptMm, 1)} m`}
            note={`of ${metres(run.woundMm, 1)} m wound`}
          />
          <Total
            name={run.coils === 1 ? 'Coil' : 'Coils'}
            value={String(run.coils)}
            note={run.spools > 1 ? `from ${counted(run.spools, 'spool')}` : ''}
          />
          <Total name="Longest coil" value={`${metres(run.longestCoilMm, 1)} m`} note="" />
        </dl>
      )}
      <p class="actions no-print">
        {action && (
          <a class="button main" href={action.href} data-testid="next-action">
            {action.text}
          </a>
        )}
        <a href={`/compare/${run.id}`}>Compare with other runs</a>
        {run.endedMs !== null && <a href="/next">What to change next</a>}
      </p>
    </header>
  );
}

function Total({ name, note, value }: { name: string; note: string; value: string }) {
  return (
    <div>
      <dt>{name}</dt>
      <dd>
        <span class="big">{value}</span>
        {note && <span class="fine">{note}</span>}
      </dd>
    </div>
  );
}

function nextAction(run: RunView, spools: readonly SpoolView[]): { href: string; text: string } | null {
  if (run.endedMs === null) return null;
  const of = (spool: SpoolView) => (spools.length > 1 ? ` of spool ${spool.ordinal}` : '');
  const toCut = spools.find(({ verdict, isCut }) => verdict?.fitness === 'fitAfterCutting' && !isCut);
  if (toCut)
    return { href: `/spool/${toCut.id}/rewind`, text: spools.length > 1 ? `Cut spool ${toCut.ordinal}` : 'Cut' };
  const unknown = spools.find(({ verdict }) => verdict?.fitness === 'unknown');
  if (unknown) return { href: `/spool/${unknown.id}`, text: `See the ribbon${of(unknown)}` };
  const usable = spools.find(({ verdict }) => verdict !== null && verdict.fitness !== 'notFit');
  if (usable)
    return { href: `/spool/${usable.id}/label`, text: `Print ${usable.isCut ? 'labels' : 'the label'}${of(usable)}` };
  return null;
}
