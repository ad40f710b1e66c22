import type { InvitationView } from '../../server/api/contract/devices.ts';
import { span } from '../format/times.ts';
import { QrCode } from '../shell/qr-code.tsx';
import { isOwnAddress } from '../shell/qr-path.ts';
import '../styles/devices.css';
import { RIGHT_TEXT } from './right-text.ts';

interface Props {
  readonly invitation: InvitationView;
  /** By the clock of this device. */
  readonly untilMs: number;
  /** The page that opens once the device is paired; '' = the live page. */
  readonly nextPath?: '' | '/phone';
  close(): void;
}

/** The link and QR code that pair another device. */
export function Invitation({ invitation, untilMs, nextPath = '', close }: Props) {
  const { code, right, addresses, certificatePage } = invitation;
  const [best, ...others] = isOwnAddress(location.origin) ? addresses : [location.origin];
  const link = best === undefined ? null : `${best}/pair#${code}${nextPath}`;
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
          {nextPath === '/phone' && ' E-mail and chat work without it: see How, below.'}
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
            {nextPath === '/phone' && !link.startsWith('http:') && (
              <p class="fine">
                The phone itself asks whether to open the link and whether this page may notify. An iPhone or iPad wants
                the page on its home screen first.
              </p>
            )}
            {nextPath === '/phone' && link.startsWith('http:') && (
              <p data-testid="no-push-by-http">
                This link is plain HTTP, and browsers allow notifications only over HTTPS. Start Strandward with{' '}
                <code>--https own-ca</code> for them. Without it use e-mail or a chat: <a href="#channels-title">How</a>
                , below.
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
