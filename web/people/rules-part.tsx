import { useState } from 'preact/hooks';
import type { PeopleView, RulesInput } from '../../server/api/contract/people.ts';
import { NumberField } from '../form/number-field.tsx';
import { TextField } from '../form/text-field.tsx';
import { useFaults } from '../form/use-faults.ts';
import { ago, serviceClockText } from '../format/times.ts';
import { nowMs } from '../service/live-store.ts';
import { showNotice } from '../shell/notice.tsx';
import { ProblemNote } from '../shell/problem-note.tsx';
import { Term } from '../terms/term.tsx';
import { saveRules } from './people-store.ts';

const DAYS = ['Sun', 'Mon', 'Tue', 'Wed', 'Thu', 'Fri', 'Sat'];
const FROM_MONDAY = [1, 2, 3, 4, 5, 6, 0];

/** The fields of the rules, and the ids of their inputs. */
const FIELD_IDS = {
  escalateAfterMin: 'escalate',
  high: 'high',
  medium: 'medium',
  low: 'low',
  drillAnswerWithinMin: 'within',
  pageAddress: 'page',
  heartbeatAddress: 'beat',
  heartbeatEveryS: 'every',
} as const;

type FieldName = keyof typeof FIELD_IDS;
const FIELDS = Object.keys(FIELD_IDS) as FieldName[];
type NumberName = Exclude<FieldName, 'pageAddress' | 'heartbeatAddress'>;

/** Reminders, rounds, the times of alarm tests, links and the heartbeat. */
export function RulesPart({ view }: { view: PeopleView }) {
  const { rules, heartbeat } = view;
  const [numbers, setNumbers] = useState<Partial<Record<NumberName, number | null>>>({});
  const [texts, setTexts] = useState<{ readonly pageAddress?: string; readonly heartbeatAddress?: string }>({});
  const [drill, setDrill] = useState<RulesInput['drill'] | undefined>(undefined);
  const { faults, problem, showThrown, clear, clearAll } = useFaults(FIELDS, (name) => `rules-${FIELD_IDS[name]}`);
  const shown = drill === undefined ? rules.drill : drill;
  const changed = drill !== undefined || Object.keys({ ...numbers, ...texts }).length > 0;
  const field = (name: NumberName, label: string, was: number, hint: string) => (
    <NumberField
      id={`rules-${FIELD_IDS[name]}`}
      label={label}
      hint={hint}
      fault={faults[name]}
      value={name in numbers ? (numbers[name] ?? null) : was}
      set={(value) => {
        clear(name);
        setNumbers({ ...numbers, [name]: value });
      }}
    />
  );
  const save = async () => {
    // −1 is outside every range, so that the service reports the permitted one.
    const number = (name: NumberName, was: number) => (name in numbers ? (numbers[name] ?? -1) : was);
    const { remindEveryMin } = rules;
    try {
      await saveRules({
        pageAddress: (texts.pageAddress ?? rules.pageAddress).trim(),
        escalateAfterMin: number('escalateAfterMin', rules.escalateAfterMin),
        remindEveryMin: {
          high: number('high', remindEveryMin.high),
          medium: number('medium', remindEveryMin.medium),
          low: number('low', remindEveryMin.low),
        },
        drill: shown,
        drillAnswerWithinMin: number('drillAnswerWithinMin', rules.drillAnswerWithinMin),
        heartbeatAddress: texts.heartbeatAddress === undefined ? null : texts.heartbeatAddress.trim(),
        heartbeatEveryS: number('heartbeatEveryS', rules.heartbeatEveryS),
      });
      setNumbers({});
      setTexts({});
      setDrill(undefined);
      clearAll();
      showNotice({ text: 'Saved.' });
    } catch (thrown) {
      showThrown(thrown);
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
      <div class="part-intro">
        <h2 id="rules-title">
          <Term of="escalation">Escalation</Term>
        </h2>
        <p>
          How often people are reminded, when the next are notified, and how others can tell that Strandward is running.
        </p>
      </div>
      <div class="form">
        {field(
          'escalateAfterMin',
          'Call the next person after (min)',
          rules.escalateAfterMin,
          'If no one acknowledges.',
        )}
        {field(
          'high',
          'Reminder, high priority (min)',
          rules.remindEveryMin.high,
          'Repeated until acknowledged; 0 = never.',
        )}
        {field('medium', 'Reminder, medium priority (min)', rules.remindEveryMin.medium, '0 = never.')}
        {field('low', 'Reminder, low priority (min)', rules.remindEveryMin.low, '0 = never.')}
        <fieldset class="ticks wide">
          <legend>Scheduled alarm tests</legend>
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
              </label>{' '}
              <span class="fine">{serviceClockText(Date.now())}</span>
            </span>
          )}
        </fieldset>
        {field(
          'drillAnswerWithinMin',
          'Confirm an alarm test within (min)',
          rules.drillAnswerWithinMin,
          'After that the person counts as not reached.',
        )}
        <TextField
          id="rules-page"
          label="Address of this page"
          hint="The address that works from where people are. Messages then have a link to acknowledge with."
          fault={faults.pageAddress}
          value={texts.pageAddress ?? rules.pageAddress}
          set={(pageAddress) => {
            clear('pageAddress');
            setTexts({ ...texts, pageAddress });
          }}
        />
        <TextField
          id="rules-beat"
          label="Heartbeat address"
          term="heartbeat"
          hint={
            heartbeat === null
              ? 'Strandward fetches it regularly, so that an outside service can warn you when the requests stop. Empty: none.'
              : heartbeat.text !== ''
                ? heartbeat.text
                : heartbeat.lastOkMs === null
                  ? 'Not answered yet.'
                  : `Answered ${ago(heartbeat.lastOkMs, nowMs.value)}.`
          }
          placeholder={rules.heartbeatAddress === null ? '' : `${rules.heartbeatAddress}/… (kept)`}
          value={texts.heartbeatAddress ?? ''}
          fault={faults.heartbeatAddress}
          set={(heartbeatAddress) => {
            clear('heartbeatAddress');
            setTexts({ ...texts, heartbeatAddress });
          }}
        />
        {field('heartbeatEveryS', 'Heartbeat every (s)', rules.heartbeatEveryS, '')}
        {problem && <ProblemNote problem={problem} />}
        <p class="actions">
          <button type="submit" class="main" disabled={!changed}>
            Save the rules
          </button>
          {rules.heartbeatAddress !== null && (
            <button type="button" onClick={() => setTexts({ ...texts, heartbeatAddress: ' ' })}>
              No heartbeat
            </button>
          )}
        </p>
      </div>
    </form>
  );
}
