import { useState } from 'preact/hooks';
import type { PeopleView, RulesInput } from '../../server/api/contract/people.ts';
import { nowMs } from '../service/live-store.ts';
import { asProblem, type ServiceProblem } from '../service/request.ts';
import { say } from '../shell/notice.tsx';
import { ProblemNote } from '../shell/problem-note.tsx';
import { parseNumber } from '../words/numbers.ts';
import { ago } from '../words/times.ts';
import { TextField } from './field.tsx';
import { saveRules } from './people-store.ts';
import '../styles/ticks.css';

const DAYS = ['Sun', 'Mon', 'Tue', 'Wed', 'Thu', 'Fri', 'Sat'];
const FROM_MONDAY = [1, 2, 3, 4, 5, 6, 0];

/** Reminders, rounds, the times of drills, links and the heartbeat. */
export function RulesPart({ view }: { view: PeopleView }) {
  const { rules, heartbeat } = view;
  const [texts, setTexts] = useState<Record<string, string>>({});
  const [drill, setDrill] = useState<RulesInput['drill'] | undefined>(undefined);
  const [problem, setProblem] = useState<ServiceProblem | null>(null);
  const shown = drill === undefined ? rules.drill : drill;
  const changed = drill !== undefined || Object.keys(texts).length > 0;
  const field = (name: string, label: string, was: string | number, hint: string, number = true) => (
    <TextField
      id={`rules-${name}`}
      label={label}
      hint={hint}
      number={number}
      value={texts[name] ?? String(was)}
      set={(value) => setTexts({ ...texts, [name]: value })}
    />
  );
  const save = async () => {
    const number = (name: string, was: number) => (texts[name] === undefined ? was : (parseNumber(texts[name]) ?? -1));
    const { remindEveryMin } = rules;
    try {
      await saveRules({
        pageAddress: (texts.page ?? rules.pageAddress).trim(),
        escalateAfterMin: number('escalate', rules.escalateAfterMin),
        remindEveryMin: {
          high: number('high', remindEveryMin.high),
          medium: number('medium', remindEveryMin.medium),
          low: number('low', remindEveryMin.low),
        },
        drill: shown,
        drillAnswerWithinMin: number('within', rules.drillAnswerWithinMin),
        heartbeatAddress: texts.beat === undefined ? null : texts.beat.trim(),
        heartbeatEveryS: number('every', rules.heartbeatEveryS),
      });
      setTexts({});
      setDrill(undefined);
      setProblem(null);
      say({ text: 'Saved.' });
    } catch (thrown) {
      setProblem(asProblem(thrown));
    }
  };
  const toggleDay = (day: number) => {
    const days = shown?.weekdays ?? [];
    const next = days.includes(day) ? days.filter((one) => one !== day) : [...days, day];
    setDrill(next.length === 0 ? null : { at: shown?.at ?? '18:30', weekdays: next });
  };
  return (
    <form
      class="people-part"
      aria-labelledby="rules-title"
      onSubmit={(event) => {
        event.preventDefault();
        void save();
      }}
    >
      <div class="set-words">
        <h2 id="rules-title">Rules</h2>
        <p>
          How often people are reminded, when the next are called, and what shows to the outside that somebody watches.
        </p>
      </div>
      <div class="people-form">
        {field('escalate', 'Call the next after, min', rules.escalateAfterMin, 'Without an acknowledgement.')}
        {field(
          'high',
          'Remind, high priority, min',
          rules.remindEveryMin.high,
          'Again and again until acknowledged; 0 = never.',
        )}
        {field('medium', 'Remind, medium priority, min', rules.remindEveryMin.medium, '0 = never.')}
        {field('low', 'Remind, low priority, min', rules.remindEveryMin.low, '0 = never.')}
        <fieldset class="ticks wide">
          <legend>Drills by themselves</legend>
          {FROM_MONDAY.map((day) => (
            <label key={day}>
              <input type="checkbox" checked={shown?.weekdays.includes(day) ?? false} onChange={() => toggleDay(day)} />
              {DAYS[day]}
            </label>
          ))}
          {shown && (
            <span class="hours">
              <label>
                at{' '}
                <input
                  type="time"
                  value={shown.at}
                  onInput={(event) => setDrill({ weekdays: shown.weekdays, at: event.currentTarget.value })}
                />
              </label>
            </span>
          )}
        </fieldset>
        {field('within', 'Confirm a drill within, min', rules.drillAnswerWithinMin, 'Else nobody was reached.')}
        {field(
          'page',
          'Address of this page',
          rules.pageAddress,
          'As people reach it from where they are; messages then carry a link that answers them.',
          false,
        )}
        <TextField
          id="rules-beat"
          label="Heartbeat address"
          hint={
            heartbeat === null
              ? 'Asked with GET again and again; a watcher outside misses it when nobody watches here. Empty: none.'
              : heartbeat.words !== ''
                ? heartbeat.words
                : heartbeat.lastOkMs === null
                  ? 'Not answered yet.'
                  : `Answered ${ago(heartbeat.lastOkMs, nowMs.value)}.`
          }
          placeholder={rules.heartbeatAddress === null ? '' : `${rules.heartbeatAddress}/… (kept)`}
          value={texts.beat ?? ''}
          set={(value) => setTexts({ ...texts, beat: value })}
        />
        {field('every', 'Heartbeat every, s', rules.heartbeatEveryS, '')}
        {problem && <ProblemNote problem={problem} />}
        <p class="actions">
          <button type="submit" class="main" disabled={!changed}>
            Save the rules
          </button>
          {rules.heartbeatAddress !== null && (
            <button type="button" onClick={() => setTexts({ ...texts, beat: ' ' })}>
              No heartbeat
            </button>
          )}
        </p>
      </div>
    </form>
  );
}
