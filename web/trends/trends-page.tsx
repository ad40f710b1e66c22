import type { TrendsView } from '../../server/api/contract/nights.ts';
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
  const { view, problem } = useAnswer(() => call('GET /api/trends'));
  return (
    <section class="trends">
      <header class="page-head">
        <h1>Trends</h1>
        <p>
          Each dot is a night. See also <a href="/next">what to change next</a>, and all <a href="/runs">runs</a>.
        </p>
      </header>
      {problem && <ProblemNote problem={problem} />}
      {!view && !problem && <ReadingNights />}
      {view && view.nights.length < 2 && (
        <p>There is no trend yet: it takes at least two nights. Examples and tests do not count.</p>
      )}
      {view && view.nights.length > 1 && <Trends view={view} />}
    </section>
  );
}

function Trends({ view }: { view: TrendsView }) {
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
                    <a href={`/runs/${runId}`}>{title || `Run ${runId}`}</a>, {dayOfYear(startedMs, timeZone)}
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
