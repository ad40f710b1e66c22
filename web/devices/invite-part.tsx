import { useState } from 'preact/hooks';
import type { CredentialView, InvitationView } from '../../server/api/contract/devices.ts';
import type { Right } from '../../server/entities/device.ts';
import { ChoiceField } from '../form/field.tsx';
import { span } from '../format/times.ts';
import { call } from '../service/call.ts';
import { nowMs } from '../service/live-store.ts';
import { asProblem, type ServiceProblem } from '../service/request.ts';
import { ProblemNote } from '../shell/problem-note.tsx';
import { QrCode } from '../shell/qr-code.tsx';
import { isOwnAddress } from '../shell/qr-path.ts';
import { RIGHT_CHOICES, RIGHT_HINT, RIGHT_TEXT } from './right-text.ts';

interface Shown {
  readonly invitation: InvitationView;
  readonly untilMs: number;
  /** Devices that were paired before, to notice the new one. */
  readonly before: ReadonlySet<number>;
}

/** Shows the link and QR code that pair another device, until it is paired or the code has expired. */
export function InvitePart({ devices }: { devices: readonly CredentialView[] }) {
  const [right, setRight] = useState<Right>('act');
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
          choices={RIGHT_CHOICES}
          set={setRight}
        />
        <p class="actions">
          <button type="submit">Add a phone</button>
        </p>
      </form>
    </div>
  );
}

interface InvitationProps extends Shown {
  close(): void;
}

function Invitation({ invitation, untilMs, close }: InvitationProps) {
  const { code, right, addresses, certificatePage } = invitation;
  const [best, ...others] = isOwnAddress(location.origin) ? addresses : [location.origin];
  const link = best === undefined ? null : `${best}/pair#${code}`;
  const closing = (
    <p class="actions">
      <button type="button" onClick={close}>
        Close
      </button>
    </p>
  );
  return (
    <div class="invite" data-testid="invitation">
      {link === null ? (
        <p role="status">
          Strandward listens on this machine only, so no phone reaches it. Start it with <code>--host 0.0.0.0</code>, or
          enter the <a href="/people#rules-page">address of this page</a> if a proxy leads to it.
        </p>
      ) : (
        <div class="invitation">
          <QrCode text={link} label="QR code of the link" />
          <div>
            <p>
              Scan the code with the phone’s camera, or open this link on the other device. It works once; the device{' '}
              {RIGHT_TEXT[right]}.
            </p>
            <p class="invitation-link" data-testid="invitation-link">
              {link}
            </p>
            <p class="quiet">Valid for another {span(Math.max(0, untilMs - Date.now()))}.</p>
            {certificatePage !== null && (
              <p data-testid="certificate-first">
                A new device first installs the certificate of the house:{' '}
                <a href={certificatePage}>{certificatePage}</a>
              </p>
            )}
            {others.length > 0 && <p class="fine">This machine also has the address {others.join(', ')}.</p>}
            {closing}
          </div>
        </div>
      )}
      {link === null && closing}
    </div>
  );
}
