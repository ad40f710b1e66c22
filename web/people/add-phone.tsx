import { useEffect, useState } from 'preact/hooks';
import type { InvitationView } from '../../server/api/contract/devices.ts';
import type { PeopleView } from '../../server/api/contract/people.ts';
import { Invitation } from '../devices/invitation.tsx';
import { call } from '../service/call.ts';
import { nowMs } from '../service/live-store.ts';
import { asProblem, type ServiceProblem } from '../service/request.ts';
import { ProblemNote } from '../shell/problem-note.tsx';
import { Shape } from '../shell/shape.tsx';
import { drillText } from './people-text.ts';

interface Shown {
  readonly invitation: InvitationView;
  readonly untilMs: number;
  /** The newest alarm test before, to notice that of the phone. */
  readonly drillBefore: number;
}

/** Who, how and test in one go: a code to scan, and what the phone has done with it. */
export function AddPhone({ view }: { view: PeopleView }) {
  const [shown, setShown] = useState<Shown | null>(null);
  const [problem, setProblem] = useState<ServiceProblem | null>(null);
  const newest = view.drills[0];
  const test = shown !== null && newest !== undefined && newest.id > shown.drillBefore ? newest : null;
  nowMs.value; // renders every second
  const expired = shown !== null && test === null && Date.now() >= shown.untilMs;
  useEffect(() => {
    if (expired) setShown(null);
  }, [expired]);
  const invite = async () => {
    try {
      const invitation = await call('POST /api/invitations', { body: { right: 'act' } });
      setShown({ invitation, untilMs: Date.now() + invitation.validMs, drillBefore: newest?.id ?? 0 });
      setProblem(null);
    } catch (thrown) {
      setProblem(asProblem(thrown));
    }
  };
  if (shown !== null && test === null) return <Invitation {...shown} nextPath="/phone" close={() => setShown(null)} />;
  return (
    <div class="add-phone">
      {problem && <ProblemNote problem={problem} />}
      {test && (
        <p class="with-shape" role="status" data-testid="phone-test" data-outcome={test.outcome}>
          <Shape of={test.outcome === 'all' ? 'calm' : test.outcome === 'waiting' ? 'notice' : 'abnormal'} size={20} />
          <span>The phone is paired, and a test message was sent to it. {drillText(test, nowMs.value)}</span>
        </p>
      )}
      <p class="actions">
        <button type="button" class={view.contacts.length === 0 ? 'main' : ''} onClick={invite}>
          Add a phone
        </button>
        <a href="/phone">Notify this device</a>
      </p>
    </div>
  );
}
