import { useState } from 'preact/hooks';
import type { OtherLineView } from '../../server/api/contract/lines.ts';
import type { TrendsView } from '../../server/api/contract/nights.ts';
import { ChoiceField } from '../form/field.tsx';
import { counted } from '../format/numbers.ts';
import { dayOfYear } from '../format/times.ts';
import { call } from '../service/call.ts';
import { useAnswer } from '../service/use-answer.ts';
import { Fold } from '../shell/fold.tsx';
import { ProblemNote } from '../shell/problem-note.tsx';
import { ReadingNights } from '../shell/reading-nights.tsx';
import { ScrollTable } from '../shell/scroll-table.tsx';
import '../styles/trends.css';
import { TrendChart } from './trend-chart.tsx';
import { FIGURE_TEXT, preparationText, trendText } from './trend-text.ts';

/** Whether the nights get better or worse, told from chance. */
export default function TrendsPage() {
  const others = useAnswer(() => call('GET /api/lines')).view ?? [];
  // As text, as a choice has it; '' = this line.
  const [lineId, setLineId] = useState('');
  const line = others.find(({ id }) => String(id) === lineId);
  return (
    <section class="trends">
      <header class="page-head">
        <h1>Trends</h1>
        <p>
          Each dot is a night. See also <a href="/next">what to change next</a>, and all <a href="/runs">runs</a>.
        </p>
      </header>
      {others.length > 0 && (
        <div class="nights-of">
          <ChoiceField
            label="Nights of"
            value={lineId}
            choices={[['', 'This line'] as const, ...others.map((one) => [String(one.id), one.title] as const)]}
            set={setLineId}
          />
        </div>
      )}
      <TrendsOf key={lineId} line={line} />
    </section>
  );
}

/** @param line another one; undefined = this one */
function TrendsOf({ line }: { line: OtherLineView | undefined }) {
  const { view, problem } = useAnswer(() =>
    line === undefined ? call('GET /api/trends') : call('GET /api/lines/:id/trends', { params: { id: line.id } }),
  );
  return (
    <>
      {problem && <ProblemNote problem={problem} />}
      {!view && !problem && <ReadingNights />}
      {view && view.nights.length < 2 && (
        <p>There is no trend yet: it takes at least two nights. Examples and tests do not count.</p>
      )}
      {view && view.nights.length > 1 && <Trends view={view} at={line?.address ?? ''} />}
    </>
  );
}

/** @param at address of the line; '' = this one */
function Trends({ view, at }: { view: TrendsView; at: string }) {
  const { nights, figures, needed } = view;
  const [first, last] = [nights[0]!, nights.at(-1)!];
  // A figure that changed comes first.
  const sorted = figures.toSorted((a, b) => Number(b.periods.length > 1) - Number(a.periods.length > 1));
  return (
    <>
      {nights.length < needed && (
        <p class="lead-sentence">
          {counted(nights.length, 'night')} cannot tell a change from chance. It takes at least {needed}, and more for a
          small change.
        </p>
      )}
      {sorted.map((figure) => (
        <section key={figure.key} class="trend" data-testid="trend" data-figure={figure.key}>
          <h2>
            {FIGURE_TEXT[figure.key].title} <span class="fine">{FIGURE_TEXT[figure.key].unit}</span>
          </h2>
          <p class={figure.periods.length > 1 ? 'lead-sentence' : undefined}>
            {trendText(figure, nights, needed)} {preparationText(figure)}
          </p>
          <TrendChart figure={figure} nights={nights} />
        </section>
      ))}
      <p class="trend-dates fine">
        <span>{dayOfYear(first.startedMs, first.timeZone)}</span>
        <span>{dayOfYear(last.startedMs, last.timeZone)}</span>
      </p>
      <p class="fine">
        Thick lines: nights that are alike, with the band that holds their true level in 95 of 100 cases. Short marks at
        the foot: the preparation changed. Chance alone would show a change at most once in a hundred years. It is an
        observation: what changed at the same time need not be the cause.
      </p>
      <Fold title="All nights in a table">
        <ScrollTable label="All nights">
          <table>
            <thead>
              <tr>
                <th scope="col">Night</th>
                {figures.map(({ key }) => (
                  <th scope="col" key={key}>
                    {FIGURE_TEXT[key].title}, {FIGURE_TEXT[key].unit}
                  </th>
                ))}
                <th scope="col">Prepared differently</th>
              </tr>
            </thead>
            <tbody>
              {nights.map(({ runId, title, startedMs, timeZone, changes }, i) => (
                <tr key={runId}>
                  <th scope="row">
                    <a href={`${at}/runs/${runId}`}>{title || `Run ${runId}`}</a>, {dayOfYear(startedMs, timeZone)}
                  </th>
                  {figures.map(({ key, values }) => (
                    <td key={key}>{values[i] == null ? '–' : FIGURE_TEXT[key].number(values[i])}</td>
                  ))}
                  <td>{changes.join('; ')}</td>
                </tr>
              ))}
            </tbody>
          </table>
        </ScrollTable>
      </Fold>
    </>
  );
}
