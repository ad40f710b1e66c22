import { useState } from 'preact/hooks';
import type { EffectsView } from '../../server/api/contract/nights.ts';
import { ChoiceField } from '../form/field.tsx';
import { counted } from '../format/numbers.ts';
import { call } from '../service/call.ts';
import { useAnswer } from '../service/use-answer.ts';
import { ProblemNote } from '../shell/problem-note.tsx';
import { ReadingNights } from '../shell/reading-nights.tsx';
import { Shape } from '../shell/shape.tsx';
import '../styles/next.css';

type OutcomeView = EffectsView['outcomes'][number];
type FieldView = OutcomeView['fields'][number];

interface OutcomeText {
  readonly title: string;
  readonly unit: string;
  /** "No field is shown to …". */
  readonly changes: string;
  readonly number: (value: number) => string;
  readonly average: (value: string) => string;
}

const OUTCOME_TEXT: Record<OutcomeView['key'], OutcomeText> = {
  blobs: {
    title: 'Blobs',
    unit: 'Blobs per 100 m',
    changes: 'change blobs',
    number: (value) => value.toFixed(1),
    average: (value) => `an average one has ${value} blobs per 100 m`,
  },
  good: {
    title: 'Good strand',
    unit: 'Good strand, %',
    changes: 'change how much of the strand is good',
    number: (value) => value.toFixed(1),
    average: (value) => `an average one keeps ${value} % of its strand`,
  },
  spread: {
    title: 'Steady diameter',
    unit: 'Spread σ, mm',
    changes: 'change the spread of the diameter',
    number: (value) => value.toFixed(3),
    average: (value) => `the diameter of an average one has a spread σ of ${value} mm`,
  },
};

/** What the preparations of all nights did, and what to try next. */
export default function NextPage() {
  const others = useAnswer(() => call('GET /api/lines')).view ?? [];
  const [lines, setLines] = useState<'this' | 'all'>('this');
  return (
    <section class="next">
      <header class="page-head">
        <h1>What to change next</h1>
        <p>
          What drying, sieving and the rest did to blobs, to good strand and to a steady diameter, from all nights
          together. <a href="/preparation">Material and preparation</a> of each run.
        </p>
      </header>
      {others.length > 0 && (
        <div class="nights-of">
          <ChoiceField label="Nights of" value={lines} choices={LINES} set={setLines} />
        </div>
      )}
      <Effects key={lines} lines={lines} />
    </section>
  );
}

const LINES = [
  ['this', 'This line'],
  ['all', 'All lines'],
] as const;

function Effects({ lines }: { lines: 'this' | 'all' }) {
  const { view, problem } = useAnswer(() => call('GET /api/effects', { query: { lines } }));
  return (
    <>
      {problem && <ProblemNote problem={problem} />}
      {!view && !problem && <ReadingNights />}
      {view?.notAnswered.map((why) => (
        <p key={why} role="alert" class="with-shape">
          <Shape of="abnormal" size={18} />
          <span>Without the nights of {why}</span>
        </p>
      ))}
      {view && (view.whyUnknown === null ? <Answer view={view} /> : <p class="lead-sentence">{view.whyUnknown}</p>)}
    </>
  );
}

const isFound = ({ finding }: FieldView) => finding !== 'notShown';

function Answer({ view }: { view: EffectsView }) {
  const { suggestion, outcomes, leftOut } = view;
  const others = outcomes.flatMap((outcome) => outcome.fields.filter((field) => !isFound(field)));
  return (
    <>
      {outcomes.map((outcome) => (
        <section key={outcome.key} class="next-outcome" data-testid="outcome" data-outcome={outcome.key}>
          <h2>{OUTCOME_TEXT[outcome.key].title}</h2>
          {!outcome.fields.some(({ finding }) => finding === 'shown') && (
            <p class={outcome.key === 'blobs' ? 'lead-sentence' : undefined}>
              No field is shown to {OUTCOME_TEXT[outcome.key].changes} by more than chance in{' '}
              {counted(view.nights, 'night')}.
            </p>
          )}
          <EffectList outcome={outcome} fields={outcome.fields.filter(isFound)} />
        </section>
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
          <summary>Fields with no effect shown</summary>
          {outcomes.map((outcome) => (
            <section key={outcome.key} class="next-outcome">
              <h2>{OUTCOME_TEXT[outcome.key].title}</h2>
              <EffectList outcome={outcome} fields={outcome.fields.filter((field) => !isFound(field))} />
            </section>
          ))}
        </details>
      )}
      <div class="fine next-method">
        {outcomes.map(({ key, average, nightsDifferBy: { lower, upper } }) => (
          <p key={key}>
            {OUTCOME_TEXT[key].title}: {OUTCOME_TEXT[key].average(OUTCOME_TEXT[key].number(average.value))}.
            {key !== 'good' && ` ${nightsDifferText(lower, upper)}`}
          </p>
        ))}
        <p>
          From {counted(view.nights, 'night')}. Each value is for a night that is average in everything else, with the
          interval that holds the true value in 95 of 100 cases. With few nights, estimates are pulled towards no
          effect. What was not entered, such as the batch of the material, may be the true cause.
          {leftOut.length > 0 && ` Known in too few nights: ${leftOut.join(', ')}.`}
        </p>
      </div>
    </>
  );
}

function EffectList({ outcome, fields }: { outcome: OutcomeView; fields: readonly FieldView[] }) {
  const estimates = outcome.fields.flatMap(({ levels }) => levels.map(({ estimate }) => estimate));
  // One unsure level must not squeeze all others.
  const scale = Math.min(
    Math.max(...estimates.map(({ upper }) => upper)),
    3 * Math.max(...estimates.map(({ value }) => value)),
  );
  return fields.map((field) => <Effect key={field.key} outcome={outcome.key} field={field} scale={scale} />);
}

function Effect({ outcome, field, scale }: { outcome: OutcomeView['key']; field: FieldView; scale: number }) {
  const { unit, number } = OUTCOME_TEXT[outcome];
  const share = (value: number) => `${Math.min(100, (value / scale) * 100).toFixed(1)}%`;
  return (
    <section class="next-effect" data-testid="effect" data-field={field.key}>
      <p class={field.finding === 'shown' ? 'lead-sentence' : undefined}>{field.sentence}</p>
      <table>
        <caption class="visually-hidden">
          {field.title}: {unit}
        </caption>
        <thead>
          <tr>
            <th scope="col">{field.title}</th>
            <th scope="col">Nights</th>
            <th scope="col">{unit}</th>
            <td />
          </tr>
        </thead>
        <tbody>
          {field.levels.map(({ text, nights, estimate }) => (
            <tr key={text}>
              <th scope="row">{text}</th>
              <td>{nights}</td>
              <td>
                {number(estimate.value)}{' '}
                <span class="fine">
                  {number(estimate.lower)} to {number(estimate.upper)}
                </span>
              </td>
              <td aria-hidden="true" class="next-bar-cell">
                <svg class="next-bar" viewBox="0 0 100 10" preserveAspectRatio="none" role="presentation">
                  <line x1={share(estimate.lower)} x2={share(estimate.upper)} y1="5" y2="5" />
                  <rect x={share(estimate.value)} y="1" width="1" height="8" />
                </svg>
              </td>
            </tr>
          ))}
        </tbody>
      </table>
    </section>
  );
}

function nightsDifferText(lower: number, upper: number): string {
  const [least, most] = [lower.toFixed(1), upper.toFixed(1)];
  if (most === '1.0') return 'Nights that were prepared alike differ no more than chance explains.';
  return `Nights that were prepared alike usually differ by a factor of ${least} to ${most}.`;
}
