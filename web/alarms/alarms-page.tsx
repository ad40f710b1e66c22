import { useEffect, useState } from 'preact/hooks';
import type { AlarmTypeView } from '../../server/api/contract/alarms.ts';
import { TextField } from '../form/text-field.tsx';
import { call } from '../service/call.ts';
import { refetchVersion } from '../service/live-store.ts';
import { personName, setPersonName } from '../service/person.ts';
import { asProblem, type ServiceProblem } from '../service/request.ts';
import { ProblemNote } from '../shell/problem-note.tsx';
import '../styles/alarms.css';
import { Journal } from './journal.tsx';
import { JournalLink } from './journal-link.tsx';
import { TypeTable } from './type-table.tsx';

const MONTH_MS = 30 * 86_400_000;

/** The alarm types with their state and settings, and the journal. */
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
  // From a month ago to a month ahead: a replay may date its readings there.
  const [month] = useState(() => ({ from: String(Date.now() - MONTH_MS), to: String(Date.now() + MONTH_MS) }));
  // What is below the table waits for it, so that it need not move.
  if (types === null && problem === null) return <p class="quiet fetching">Fetching the alarms …</p>;
  return (
    <section class="set-up alarms-page">
      <header class="page-head">
        <h1>Alarms</h1>
        <p>
          When Strandward notifies you, how soon, and which alarms are silenced now. Current alarms are on the{' '}
          <a href="/">live page</a>, past ones in the <a href="#journal-title">journal</a> below.
        </p>
      </header>
      <section aria-labelledby="types-title">
        <h2 id="types-title">All alarm types</h2>
        {problem && <ProblemNote problem={problem} again={load} />}
        {types && (
          <TypeTable
            types={types}
            changed={(type) => setTypes(types.map((one) => (one.type === type.type ? type : one)))}
          />
        )}
      </section>
      <section aria-labelledby="journal-title">
        <h2 id="journal-title">Journal</h2>
        <Journal />
        <p class="fine">
          The last thirty days for other programs: <JournalLink path="/api/alarm-journal" query={month} format="csv" />,{' '}
          <JournalLink path="/api/alarm-journal" query={month} format="json" />.
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
