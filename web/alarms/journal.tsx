import { useEffect, useState } from 'preact/hooks';
import { ALARM_STEPS, type AlarmStep } from '../../server/alarm/alarm.ts';
import type { JournalEntryView, JournalPageView } from '../../server/api/contract/alarm-journal.ts';
import { capital } from '../../server/problem/sentence.ts';
import { ChoiceField, Field } from '../form/field.tsx';
import { TextField } from '../form/text-field.tsx';
import { JOURNAL_TEXT } from '../format/names.ts';
import { clockWithSeconds, day, shortDay } from '../format/times.ts';
import { call } from '../service/call.ts';
import { refetchVersion } from '../service/live-store.ts';
import { asProblem, isAbort, type ServiceProblem } from '../service/request.ts';
import { ProblemNote } from '../shell/problem-note.tsx';
import { type JournalSearch, queryOf } from './journal-query.ts';

const EVERYTHING: JournalSearch = { words: '', step: '', fromDay: '', toDay: '' };

const STEPS = [
  ['', 'Anything'],
  ...ALARM_STEPS.map((step): [AlarmStep, string] => [step, capital(JOURNAL_TEXT[step])]),
] as const;

/** The journal of all alarms, the newest entries first, searched by who, what and when. */
export function Journal() {
  const [draft, setDraft] = useState(EVERYTHING);
  const [search, setSearch] = useState(EVERYTHING);
  const [pages, setPages] = useState<readonly JournalPageView[]>([]);
  const [problem, setProblem] = useState<ServiceProblem | null>(null);
  const version = refetchVersion.value;
  const load = (before: readonly JournalPageView[], signal?: AbortSignal) =>
    call('GET /api/alarm-journal/entries', {
      query: { ...queryOf(search), ...before.at(-1)?.next },
      ...(signal && { signal }),
    }).then(
      (page) => {
        setPages([...before, page]);
        setProblem(null);
      },
      (thrown) => {
        if (!isAbort(thrown)) setProblem(asProblem(thrown));
      },
    );
  useEffect(() => {
    const controller = new AbortController();
    void load([], controller.signal);
    return () => controller.abort();
  }, [search, version]);
  const set = (part: Partial<JournalSearch>) => setDraft({ ...draft, ...part });
  const entries = pages.flatMap((page) => page.entries);
  const last = pages.at(-1);
  const searching = search !== EVERYTHING;
  const backwards = draft.fromDay !== '' && draft.toDay !== '' && draft.toDay < draft.fromDay;
  return (
    <>
      <form
        class="form journal-search"
        aria-label="Search the journal"
        onSubmit={(event) => {
          event.preventDefault();
          if (!backwards) setSearch({ ...draft });
        }}
      >
        <TextField label="Alarm, name or reason" maxLength={100} value={draft.words} set={(words) => set({ words })} />
        <ChoiceField label="What happened" value={draft.step} choices={STEPS} set={(step) => set({ step })} />
        <DayField label="From" value={draft.fromDay} set={(fromDay) => set({ fromDay })} />
        <DayField
          label="To"
          fault={backwards ? 'This day is before the first one.' : null}
          value={draft.toDay}
          set={(toDay) => set({ toDay })}
        />
        <p class="actions">
          <button type="submit" class="main">
            Search
          </button>
          {searching && (
            <button
              type="button"
              onClick={() => {
                setDraft(EVERYTHING);
                setSearch(EVERYTHING);
              }}
            >
              Show all
            </button>
          )}
        </p>
      </form>
      {problem && <ProblemNote problem={problem} />}
      {entries.length > 0 && (
        <ol class="journal">
          {entries.map((entry) => (
            <Entry key={entry.id} entry={entry} />
          ))}
        </ol>
      )}
      {last && (
        <p class="quiet" role="status">
          {endText(entries, last, searching)}
        </p>
      )}
      {last?.next && (
        <button type="button" onClick={() => void load(pages)}>
          {searching ? 'Search older entries' : 'Show older entries'}
        </button>
      )}
    </>
  );
}

function Entry({ entry }: { entry: JournalEntryView }) {
  const { timeMs, step, title, sentence, by, from, reason, runId } = entry;
  return (
    <li data-testid="journal-entry" data-step={step}>
      <time dateTime={new Date(timeMs).toISOString()}>
        {shortDay(timeMs)} {clockWithSeconds(timeMs)}
      </time>
      <p>
        <strong>{title}</strong> {JOURNAL_TEXT[step]}
        {by !== null && ` by ${by}`}
        {reason !== '' && `: ${reason.replace(/\.+$/, '')}`}
        {(step === 'raised' || step === 'again') && <span class="quiet">: {sentence}</span>}
      </p>
      <p class="fine">
        {from}
        {runId !== null && <a href={`/runs/${runId}`}>Run {runId}</a>}
      </p>
    </li>
  );
}

interface DayProps {
  readonly label: string;
  readonly fault?: string | null;
  readonly value: string;
  readonly set: (value: string) => void;
}

function DayField({ label, fault, value, set }: DayProps) {
  return (
    <Field label={label} fault={fault}>
      {(ties) => <input {...ties} type="date" value={value} onInput={(event) => set(event.currentTarget.value)} />}
    </Field>
  );
}

/** What follows below the entries shown. */
function endText(entries: readonly JournalEntryView[], last: JournalPageView, searching: boolean): string {
  if (last.next === null) {
    if (entries.length > 0) return 'These are all.';
    return searching ? 'Nothing in the journal matches.' : 'No alarm was ever raised.';
  }
  return searching ? `Searched back to ${day(last.next.to)}.` : '';
}
