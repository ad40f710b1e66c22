import { useState } from 'preact/hooks';
import type { DrillView } from '../../server/api/contract/people.ts';
import { TextField } from '../form/text-field.tsx';
import { useFaults } from '../form/use-faults.ts';
import { call } from '../service/call.ts';
import { nowMs } from '../service/live-store.ts';
import { personName, setPersonName } from '../service/person.ts';
import { asProblem, type ServiceProblem } from '../service/request.ts';
import { may } from '../service/session.ts';
import { Needs } from '../shell/needs.tsx';
import { ProblemNote } from '../shell/problem-note.tsx';
import { Shape } from '../shell/shape.tsx';
import { confirmDrill, people, saveRules } from './people-store.ts';
import { deliveryText, drillText } from './people-text.ts';
import { deviceName, subscribeHere, whyNoPush } from './push-here.ts';
import { useFreshPeople } from './use-people.ts';

/** Has this device notified: whose it is, permission, a test message, and the answer that it came. */
export default function PhonePage() {
  const [test, setTest] = useState<DrillView | null>(null);
  const problem = useFreshPeople();
  const now = test && (people.value?.drills.find(({ id }) => id === test.id) ?? test);
  const noPush = whyNoPush();
  return (
    <div class="set-up people phone">
      <header class="page-head">
        <h1>Notify this device</h1>
        {noPush === null && <p>Alarms then reach it while this page is closed and the screen is locked.</p>}
      </header>
      {problem && <ProblemNote problem={problem} />}
      {noPush !== null ? (
        <NoPush why={noPush} />
      ) : (
        <Needs right="act">
          {now === null ? <TurnOn started={setTest} /> : <Test test={now} again={() => setTest(null)} />}
        </Needs>
      )}
    </div>
  );
}

/** What works without push notifications. */
function NoPush({ why }: { why: string }) {
  return (
    <div class="phone-steps" data-testid="no-push">
      <p class="with-shape">
        <Shape of="abnormal" size={20} />
        <span>Notifications are not possible here. {why}</span>
      </p>
      <p>These reach this device all the same:</p>
      <ul class="plain-list">
        <li>an e-mail, if it shows new mail at once;</li>
        <li>a message in a chat that you have on it, over the chat’s webhook.</li>
      </ul>
      <p>
        {may('manage') ? (
          <>
            Add one of them under <a href="/people">People, How</a>.
          </>
        ) : (
          'Add one of them on a device that may manage: People, How.'
        )}
      </p>
    </div>
  );
}

/** Whose device it is, and the press that a browser wants before it asks for permission. */
function TurnOn({ started }: { started: (test: DrillView) => void }) {
  const [person, setPerson] = useState(personName.value);
  const [busy, setBusy] = useState(false);
  const { faults, problem, showThrown, clearAll } = useFaults(['person'], () => 'phone-person');
  const view = people.value;
  const turnOn = async () => {
    if (view === null) return;
    setBusy(true);
    clearAll();
    try {
      const settings = await subscribeHere(view.pushKey);
      const test = await call('POST /api/phones', { body: { person, device: deviceName(), settings } });
      if (personName.value === '') setPersonName(person);
      // Links in messages over other channels need it.
      if (may('manage') && view.rules.pageAddress === '' && location.protocol === 'https:')
        await saveRules({ ...view.rules, heartbeatAddress: null, pageAddress: location.origin });
      started(test);
    } catch (thrown) {
      showThrown(thrown);
    }
    setBusy(false);
  };
  return (
    <form
      class="phone-steps"
      aria-label="Notify this device"
      onSubmit={(event) => {
        event.preventDefault();
        void turnOn();
      }}
    >
      <TextField
        id="phone-person"
        label="Your name"
        hint="The person who is notified here."
        suggested={view?.contacts.map(({ name }) => name) ?? []}
        value={person}
        fault={faults.person}
        set={setPerson}
      />
      {problem && <ProblemNote problem={problem} />}
      <p class="actions">
        <button type="submit" class="main" disabled={busy || view === null || person.trim() === ''}>
          Turn on notifications
        </button>
      </p>
      <p class="fine">The device then asks whether this page may notify you: allow it.</p>
    </form>
  );
}

/** The test message, until it is confirmed here or through its notification. */
function Test({ test, again }: { test: DrillView; again: () => void }) {
  const [problem, setProblem] = useState<ServiceProblem | null>(null);
  const [person] = test.people;
  const view = people.value;
  if (person === undefined || view === null) return null;
  const done = test.outcome === 'all';
  const open = test.outcome === 'waiting';
  return (
    <div class="phone-steps" data-testid="phone-test" data-outcome={test.outcome}>
      <div class="drill">
        <Shape of={done ? 'calm' : open ? 'notice' : 'danger'} size={28} />
        <p class="drill-outcome" role="status">
          {done
            ? `Done: alarms reach ${person.name} on this device.`
            : open
              ? 'A test message is on its way to this device.'
              : drillText(test, nowMs.value)}
        </p>
      </div>
      {open && (
        <>
          <p>
            {deliveryText(test, person.name, view)} Tap the notification and confirm there, or press the button once you
            see it.
          </p>
          {problem && <ProblemNote problem={problem} />}
          <p class="actions">
            <button
              type="button"
              class="main"
              onClick={() => confirmDrill(test.id, person.contactId).catch((thrown) => setProblem(asProblem(thrown)))}
            >
              I got it
            </button>
          </p>
        </>
      )}
      <p class="actions">
        {done ? <a href="/">Open the live page</a> : null}
        {!done && (
          <button type="button" class="plain" onClick={again}>
            Nothing arrived: try again
          </button>
        )}
      </p>
    </div>
  );
}
