import { useEffect, useState } from 'preact/hooks';
import type { AlarmTypeView } from '../../server/api/contract/alarms.ts';
import { TextField } from '../form/text-field.tsx';
import { call } from '../service/call.ts';
import { live, refetchVersion } from '../service/live-store.ts';
import { personName, setPersonName } from '../service/person.ts';
import { asProblem, type ServiceProblem } from '../service/request.ts';
import { ProblemNote } from '../shell/problem-note.tsx';
import '../styles/alarms.css';
import { Needs } from '../shell/needs.tsx';
import { answerFailed } from './alarm-actions.ts';
import { JournalLink } from './journal-link.tsx';
import { SuppressedList } from './suppressed-list.tsx';
import { TypeList } from './type-list.tsx';

const MONTH_MS = 30 * 86_400_000;

/** The alarm types and their settings, the suppressed alarms and the journal. */
export default function AlarmsPage() {
  const [types, setTypes] = useState<readonly AlarmTypeView[] | null>(null);
  const [problem, setProblem] = useState<ServiceProblem | null>(null);
  const version = refetchVersion.value;
  const load = () =>
    call('GET /api/alarm-types').then(
      (answer) => {
        setTypes(answer);
        setProblem(null);
      },
      (thrown) => setProblem(asProblem(thrown)),
    );
  useEffect(() => {
    void load();
  }, [version]);
  const suppressed = live.value?.suppressed ?? [];
  const activeAlarms = live.value?.alarms ?? [];
  // From a month ago to a month ahead: a replay may date its readings there.
  const [month] = useState(() => ({ from: String(Date.now() - MONTH_MS), to: String(Date.now() + MONTH_MS) }));
  return (
    <section class="set-up alarms-page">
      <header class="page-head">
        <h1>Alarms</h1>
        <p>
          When Strandward notifies you, how soon, and which alarms are silenced now.{' '}
          {activeAlarms.length > 0 && <a href="/">Current alarms</a>}
        </p>
      </header>
      {answerFailed.value && <ProblemNote problem={answerFailed.value} />}
      <section aria-labelledby="suppressed-title">
        <h2 id="suppressed-title">Silenced alarms</h2>
        {suppressed.length === 0 ? (
          <p class="quiet">No alarm is silenced, suppressed or out of service.</p>
        ) : (
          <SuppressedList alarms={suppressed} />
        )}
      </section>
      <section aria-labelledby="types-title">
        <h2 id="types-title">All alarm types</h2>
        {problem && <ProblemNote problem={problem} again={load} />}
        {types && (
          <Needs right="manage">
            <TypeList
              types={types}
              changed={(type) => setTypes(types.map((one) => (one.type === type.type ? type : one)))}
            />
          </Needs>
        )}
      </section>
      <section aria-labelledby="journal-title">
        <h2 id="journal-title">The journal</h2>
        <p>
          Every step of every alarm in the last thirty days, with who did it and from where, for other programs:{' '}
          <JournalLink path="/api/alarm-journal" query={month} format="csv" />,{' '}
          <JournalLink path="/api/alarm-journal" query={month} format="json" />. The page of a run has its own journal.
        </p>
      </section>
      <section aria-labelledby="who-title">
        <h2 id="who-title">Your name</h2>
        <div class="person">
          <TextField
            id="person-name"
            label="Your name on this device"
            hint="What you do on this device is recorded under it. Without one it is recorded as “someone who gave no name”."
            maxLength={60}
            autocomplete="name"
            value={personName.value}
            set={setPersonName}
          />
        </div>
      </section>
    </section>
  );
}
