import { useState } from 'preact/hooks';
import type { PeopleView, RulesInput } from '../../server/api/contract/people.ts';
import { NumberField } from '../form/number-field.tsx';
import { TextField } from '../form/text-field.tsx';
import { ago } from '../format/times.ts';
import { nowMs } from '../service/live-store.ts';
import { asProblem, type ServiceProblem } from '../service/request.ts';
import { fieldOf, focusField } from '../shell/field-of.ts';
import { say } from '../shell/notice.tsx';
import { ProblemNote } from '../shell/problem-note.tsx';
import { saveRules } from './people-store.ts';

const DAYS = ['Sun', 'Mon', 'Tue', 'Wed', 'Thu', 'Fri', 'Sat'];
const FROM_MONDAY = [1, 2, 3, 4, 5, 6, 0];

/** Fields of the rules, and where each is entered. */
const FIELD_IDS: Readonly<Record<string, string>> = {
  escalateAfterMin: 'escalate',
  high: 'high',
  medium: 'medium',
  low: 'low',
  drillAnswerWithinMin: 'within',
  pageAddress: 'page',
  heartbeatAddress: 'beat',
  heartbeatEveryS: 'every',
};

type NumberName = 'escalate' | 'high' | 'medium' | 'low' | 'within' | 'every';

/** Reminders, rounds, the times of drills, links and the heartbeat. */
export function RulesPart({ view }: { view: PeopleView }) {
  const { rules, heartbeat } = view;
  const [numbers, setNumbers] = useState<Partial<Record<NumberName, number | null>>>({});
  const [texts, setTexts] = useState<{ readonly page?: string; readonly beat?: string }>({});
  const [drill, setDrill] = useState<RulesInput['drill'] | undefined>(undefined);
  const [problem, setProblem] = useState<ServiceProblem | null>(null);
  const shown = drill === undefined ? rules.drill : drill;
  const changed = drill !== undefined || Object.keys({ ...numbers, ...texts }).length > 0;
  const at = problem === null ? null : fieldOf(problem, Object.keys(FIELD_IDS));
  const faulty = at === null ? null : FIELD_IDS[at];
  const faultOf = (name: string) =>
    problem !== null && faulty === name ? `${problem.message} ${problem.detail}` : undefined;
  const entered = (name: string) => {
    if (faulty === name) setProblem(null);
  };
  const field = (name: NumberName, label: string, was: number, hint: string) => (
    <NumberField
      id={`rules-${name}`}
      label={label}
      hint={hint}
      fault={faultOf(name)}
      value={name in numbers ? (numbers[name] ?? null) : was}
      set={(value) => {
        entered(name);
        setNumbers({ ...numbers, [name]: value });
      }}
    />
  );
  const save = async () => {
    // What is no number is outside every range, so the service tells which one is wanted.
    const number = (name: NumberName, was: number) => (name in numbers ? (numbers[name] ?? -1) : was);
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
      setNumbers({});
      setTexts({});
      setDrill(undefined);
      setProblem(null);
      say({ text: 'Saved.' });
    } catch (thrown) {
      const said = asProblem(thrown);
      setProblem(said);
      const at = fieldOf(said, Object.keys(FIELD_IDS));
      if (at !== null) focusField(`rules-${FIELD_IDS[at]}`);
    }
  };
  const toggleDay = (day: number) => {
    const days = shown?.weekdays ?? [];
    const next = days.includes(day) ? days.filter((one) => one !== day) : [...days, day];
    setDrill(next.length === 0 ? null : { at: shown?.at ?? '18:30', weekdays: next });
  };
  return (
    <form
      class="part"
      aria-labelledby="rules-title"
      onSubmit={(event) => {
        event.preventDefault();
        void save();
      }}
    >
      <div class="part-words">
        <h2 id="rules-title">Rules</h2>
        <p>
          How often people are reminded, when the next are called, and what shows to the outside that somebody watches.
        </p>
      </div>
      <div class="form">
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
        <TextField
          id="rules-page"
          label="Address of this page"
          hint="As people reach it from where they are; messages then carry a link that answers them."
          fault={faultOf('page')}
          value={texts.page ?? rules.pageAddress}
          set={(page) => {
            entered('page');
            setTexts({ ...texts, page });
          }}
        />
        <TextField
          id="rules-beat"
          label="Heartbeat address"
          hint={
            heartbeat === null
              ? 'Asked with GET again and again; a watcher outside misses it when nobody watches here. Empty: none.'
              : heartbeat.text !== ''
                ? heartbeat.text
                : heartbeat.lastOkMs === null
                  ? 'Not answered yet.'
                  : `Answered ${ago(heartbeat.lastOkMs, nowMs.value)}.`
          }
          placeholder={rules.heartbeatAddress === null ? '' : `${rules.heartbeatAddress}/… (kept)`}
          value={texts.beat ?? ''}
          fault={faultOf('beat')}
          set={(beat) => {
            entered('beat');
            setTexts({ ...texts, beat });
          }}
        />
        {field('every', 'Heartbeat every, s', rules.heartbeatEveryS, '')}
        {problem && faulty === null && <ProblemNote problem={problem} />}
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
