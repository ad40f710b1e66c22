import { useState } from 'preact/hooks';
import type { CredentialView, InvitationView } from '../../server/api/contract/devices.ts';
import type { DeviceRight } from '../../server/entities/device.ts';
import { ChoiceField } from '../form/field.tsx';
import { call } from '../service/call.ts';
import { nowMs } from '../service/live-store.ts';
import { asProblem, type ServiceProblem } from '../service/request.ts';
import { ProblemNote } from '../shell/problem-note.tsx';
import { Invitation } from './invitation.tsx';
import { DEVICE_RIGHT_CHOICES, RIGHT_HINT, RIGHT_TEXT } from './right-text.ts';

interface Shown {
  readonly invitation: InvitationView;
  /** By the clock of this device. */
  readonly untilMs: number;
  /** Devices that were paired before, to notice the new one. */
  readonly before: ReadonlySet<number>;
}

/** Shows the link and QR code that pair another device, until it is paired or the code has expired. */
export function InvitePart({ devices }: { devices: readonly CredentialView[] }) {
  const [right, setRight] = useState<DeviceRight>('act');
  const [shown, setShown] = useState<Shown | null>(null);
  const [problem, setProblem] = useState<ServiceProblem | null>(null);
  const invite = async () => {
    try {
      const invitation = await call('POST /api/invitations', { body: { right } });
      const before = new Set(devices.map(({ id }) => id));
      setShown({ invitation, untilMs: Date.now() + invitation.validMs, before });
      setProblem(null);
    } catch (thrown) {
      setProblem(asProblem(thrown));
    }
  };
  const paired = shown === null ? undefined : devices.find(({ id }) => !shown.before.has(id));
  nowMs.value; // renders every second
  const expired = shown !== null && paired === undefined && Date.now() >= shown.untilMs;
  if (shown !== null && paired === undefined && !expired) return <Invitation {...shown} close={() => setShown(null)} />;
  return (
    <div class="invite">
      {paired && (
        <p class="tested" role="status">
          {paired.name} is paired and {RIGHT_TEXT[paired.right]}.
        </p>
      )}
      {expired && <p role="status">The code has expired. Show another when the phone is at hand.</p>}
      {problem && <ProblemNote problem={problem} />}
      <form
        class="form"
        onSubmit={(event) => {
          event.preventDefault();
          void invite();
        }}
      >
        <ChoiceField
          id="invite-right"
          label="The new device may"
          hint={RIGHT_HINT}
          value={right}
          choices={DEVICE_RIGHT_CHOICES}
          set={setRight}
        />
        <p class="actions">
          <button type="submit">Pair a device</button>
        </p>
      </form>
    </div>
  );
}
