import { useEffect, useState } from 'preact/hooks';
import type { PeopleView } from '../../server/api/contract/people.ts';
import type { RecordHealth } from '../../server/api/contract/record.ts';
import { counted, unbroken } from '../format/numbers.ts';
import { call } from '../service/call.ts';
import { live, nowMs } from '../service/live-store.ts';
import { asProblem, type ServiceProblem } from '../service/request.ts';
import { may } from '../service/session.ts';
import { settings } from '../service/settings.ts';
import { ProblemNote } from '../shell/problem-note.tsx';
import { Shape } from '../shell/shape.tsx';
import '../styles/night.css';
import { type NightCheck, nightChecks } from './night-checks.ts';

/** Often enough to see the phone's answer to a test. */
const LOAD_EVERY_MS = 2000;

interface Loaded {
  readonly people: PeopleView;
  readonly record: RecordHealth;
}

const SHAPES = { fine: 'calm', missing: 'abnormal', ask: 'notice' } as const;
const STATES = { fine: 'Fine', missing: 'To do', ask: 'Check yourself' } as const;

/** What to check before leaving the line alone for a night, on one screen. */
export default function NightPage() {
  const [loaded, setLoaded] = useState<Loaded | null>(null);
  const [problem, setProblem] = useState<ServiceProblem | null>(null);
  const load = async () => {
    try {
      const [people, record] = await Promise.all([call('GET /api/people'), call('GET /api/record')]);
      setLoaded({ people, record });
      setProblem(null);
    } catch (thrown) {
      setProblem(asProblem(thrown));
    }
  };
  useEffect(() => {
    void load();
    const timer = setInterval(load, LOAD_EVERY_MS);
    return () => clearInterval(timer);
  }, []);
  if (problem && loaded === null) return <ProblemNote problem={problem} again={load} />;
  if (loaded === null || live.value === null || settings.value === null)
    return <p class="quiet fetching">Checking …</p>;
  const checks = nightChecks({ live: live.value, settings: settings.value, nowMs: nowMs.value, ...loaded });
  const open = checks.filter(({ state }) => state === 'missing').length;
  const reachable = may('act') && loaded.people.contacts.some(({ channelIds }) => channelIds.length > 0);
  const ask = checks.filter(({ state }) => state === 'ask').length;
  return (
    <article class="night">
      <header class="page-head">
        <h1 data-testid="night-verdict">
          {open > 0
            ? `${counted(open, 'thing')} to do before bed`
            : 'Nothing left to do, as far as Strandward can check'}
        </h1>
        <p>
          {ask > 0 && `${counted(ask, 'thing')} to check yourself. `}Strandward only watches: never leave a hot machine
          alone without an independent over-temperature cut-out and a smoke alarm.
        </p>
      </header>
      {problem && <ProblemNote problem={problem} />}
      <ul class="night-checks">
        {checks.map((check) => (
          <NightItem
            key={check.id}
            check={check}
            test={check.id === 'phone' && reachable ? () => call('POST /api/drills').then(load) : null}
          />
        ))}
      </ul>
    </article>
  );
}

/** @param test starts an alarm test; null = none can be started here */
function NightItem({ check, test }: { check: NightCheck; test: (() => Promise<void>) | null }) {
  const { id, title, state, text, page } = check;
  const [problem, setProblem] = useState<ServiceProblem | null>(null);
  return (
    <li data-testid="night-check" data-check={id} data-state={state}>
      <Shape of={SHAPES[state]} size={24} />
      <div>
        <h2>
          {title} <span class="night-state">{STATES[state]}</span>
        </h2>
        <p>{unbroken(text)}</p>
        {problem && <ProblemNote problem={problem} />}
      </div>
      <p class="actions">
        {test !== null && (
          <button
            type="button"
            class={state === 'fine' ? '' : 'main'}
            onClick={() =>
              test().then(
                () => setProblem(null),
                (thrown) => setProblem(asProblem(thrown)),
              )
            }
          >
            Test now
          </button>
        )}
        {state === 'missing' && page !== null && <a href={page}>Go there</a>}
      </p>
    </li>
  );
}
