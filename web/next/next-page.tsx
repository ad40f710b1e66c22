import type { EffectsView } from '../../server/api/contract/nights.ts';
import { counted } from '../format/numbers.ts';
import { call } from '../service/call.ts';
import { useAnswer } from '../service/use-answer.ts';
import { ProblemNote } from '../shell/problem-note.tsx';
import '../styles/next.css';

type FieldView = EffectsView['fields'][number];

/** What the preparations of all nights did to blobs, and what to try next. */
export default function NextPage() {
  const { view, problem } = useAnswer(() => call('GET /api/effects'));
  return (
    <section class="next">
      <header class="page-head">
        <h1>What to change next</h1>
        <p>
          What drying, sieving and the rest did to blobs, from all nights together.{' '}
          <a href="/preparation">Material and preparation</a> of each run.
        </p>
      </header>
      {problem && <ProblemNote problem={problem} />}
      {!view && !problem && (
        <p class="quiet" role="status">
          Reading all nights …
        </p>
      )}
      {view && (view.whyUnknown === null ? <Answer view={view} /> : <p class="lead-sentence">{view.whyUnknown}</p>)}
    </section>
  );
}

function Answer({ view }: { view: EffectsView }) {
  const { suggestion, fields, average, nightsDifferBy, leftOut } = view;
  const found = fields.filter(({ finding }) => finding !== 'notShown');
  const others = fields.filter(({ finding }) => finding === 'notShown');
  const most = Math.max(...fields.flatMap(({ levels }) => levels.map(({ rate }) => rate.upper)));
  // One unsure level must not squeeze all others.
  const scale = Math.min(most, 3 * Math.max(...fields.flatMap(({ levels }) => levels.map(({ rate }) => rate.value))));
  return (
    <>
      {!found.some(({ finding }) => finding === 'shown') && (
        <p class="lead-sentence">
          No field is shown to change blobs by more than chance in {counted(view.nights, 'night')}.
        </p>
      )}
      {found.map((field) => (
        <Effect key={field.key} field={field} scale={scale} />
      ))}
      {suggestion && (
        <div class="next-try" data-testid="suggestion">
          <h2>Next</h2>
          <p>
            <strong>{suggestion.what}</strong> {suggestion.why}
          </p>
          <p>Cost: {suggestion.costs}</p>
          <p>{suggestion.learnt}</p>
          <p class="fine">
            Stay within what the material and the machine allow. Never leave a dryer or a hot barrel alone because of
            this advice.
          </p>
        </div>
      )}
      {others.length > 0 && (
        <details class="next-others">
          <summary>{counted(others.length, 'field')} without a shown effect</summary>
          {others.map((field) => (
            <Effect key={field.key} field={field} scale={scale} />
          ))}
        </details>
      )}
      <p class="fine next-method">
        {counted(view.nights, 'night')}; an average one has {average?.value.toFixed(1)} blobs per 100 m. Nights that
        were prepared alike usually differ by a factor of {nightsDifferBy?.toFixed(1)}. Each value is for a night that
        is average in everything else, with the interval that holds the true value in 95 of 100 cases. With few nights,
        effects are drawn towards none. What was not entered, such as the batch of the material, may be the true cause.
        {leftOut.length > 0 && ` Known in too few nights: ${leftOut.join(', ')}.`}
      </p>
    </>
  );
}

function Effect({ field, scale }: { field: FieldView; scale: number }) {
  const share = (rate: number) => `${Math.min(100, (rate / scale) * 100).toFixed(1)}%`;
  return (
    <section class="next-effect" data-testid="effect" data-field={field.key}>
      <p class={field.finding === 'shown' ? 'lead-sentence' : undefined}>{field.sentence}</p>
      <table>
        <caption class="visually-hidden">{field.title}: blobs per 100 m</caption>
        <thead>
          <tr>
            <th scope="col">{field.title}</th>
            <th scope="col">Nights</th>
            <th scope="col">Blobs per 100 m</th>
            <td />
          </tr>
        </thead>
        <tbody>
          {field.levels.map(({ text, nights, rate }) => (
            <tr key={text}>
              <th scope="row">{text}</th>
              <td>{nights}</td>
              <td>
                {rate.value.toFixed(1)}{' '}
                <span class="fine">
                  {rate.lower.toFixed(1)} to {rate.upper.toFixed(1)}
                </span>
              </td>
              <td aria-hidden="true" class="next-bar-cell">
                <svg class="next-bar" viewBox="0 0 100 10" preserveAspectRatio="none" role="presentation">
                  <line x1={share(rate.lower)} x2={share(rate.upper)} y1="5" y2="5" />
                  <rect x={share(rate.value)} y="1" width="1" height="8" />
                </svg>
              </td>
            </tr>
          ))}
        </tbody>
      </table>
    </section>
  );
}
