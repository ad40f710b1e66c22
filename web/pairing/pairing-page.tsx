import type { ComponentChildren } from 'preact';
import { useEffect, useState } from 'preact/hooks';
import { CREDENTIAL_NAME_MAX, deviceKindOf } from '../../server/entities/device.ts';
import { TextField } from '../form/text-field.tsx';
import { useFaults } from '../form/use-faults.ts';
import { call } from '../service/call.ts';
import { ProblemNote } from '../shell/problem-note.tsx';
import '../styles/pairing.css';

/** `#CODE` or `#CODE/phone`: the code of an invitation, in the fragment, which a browser sends to no server. */
function invitationInAddress(): { readonly code: string; readonly nextPath: string } {
  const [code = '', page] = location.hash.slice(1).split('/');
  return { code, nextPath: page === 'phone' ? '/phone' : '/' };
}

/** What a device that is not paired sees: pair it by the code in the address, or find out how to get one. */
export function PairingPage() {
  const { code, nextPath } = invitationInAddress();
  return code === '' ? <HowToPair /> : <PairForm code={code} nextPath={nextPath} />;
}

function PairForm({ code, nextPath }: { code: string; nextPath: string }) {
  return (
    <Frame title="Pair this device">
      <p>
        It stays signed in until it is removed under Set-up → Devices. Everything done on it is recorded under its name.
      </p>
      <NameForm secret={{ code }} button="Pair this device" nextPath={nextPath} />
    </Frame>
  );
}

function HowToPair() {
  const [hasKey, setHasKey] = useState(false);
  useEffect(() => {
    // Without an answer the other ways remain.
    call('GET /api/pairing').then(
      ({ accessKey }) => setHasKey(accessKey),
      () => {},
    );
  }, []);
  return (
    <Frame title="This device is not paired">
      <ul class="ways">
        <li>
          <h2>With a paired device</h2>
          <p>
            For a phone open <strong>People</strong> there, press <strong>Add a phone</strong>, and scan the code. For
            anything else: <strong>Set-up → Devices</strong>, <strong>Pair a device</strong>.
          </p>
        </li>
        <li>
          <h2>On the machine itself</h2>
          <p>
            Run <code>strandward pair</code> and scan the code, or open the link that it prints.
          </p>
        </li>
        {hasKey && (
          <li>
            <details>
              <summary>With the access key</summary>
              <p>Strandward was started with one.</p>
              <KeyForm />
            </details>
          </li>
        )}
      </ul>
    </Frame>
  );
}

function KeyForm() {
  const [accessKey, setAccessKey] = useState('');
  return (
    <NameForm secret={{ accessKey: accessKey.trim() }} button="Pair with the key" nextPath="/">
      <TextField
        id="pair-key"
        label="Access key"
        type="password"
        autocomplete="current-password"
        value={accessKey}
        set={setAccessKey}
      />
    </NameForm>
  );
}

interface NameFormProps {
  readonly secret: { readonly code: string } | { readonly accessKey: string };
  readonly button: string;
  /** The page to open afterwards. */
  readonly nextPath: string;
  readonly children?: ComponentChildren;
}

function NameForm({ secret, button, nextPath, children }: NameFormProps) {
  const [name, setName] = useState(() => deviceKindOf(navigator.userAgent) ?? '');
  const { faults, problem, showThrown, clearAll } = useFaults(['name'], () => 'pair-name');
  const pair = async () => {
    try {
      await call('POST /api/devices', { body: { name, ...secret } });
      // Loads the page again, as a paired device. The code leaves the history of the browser.
      location.replace(nextPath);
    } catch (thrown) {
      showThrown(thrown);
    }
  };
  return (
    <form
      class="pair-form"
      onSubmit={(event) => {
        event.preventDefault();
        clearAll();
        void pair();
      }}
    >
      {children}
      <TextField
        id="pair-name"
        label="Name of this device"
        hint="Such as “kitchen phone”."
        maxLength={CREDENTIAL_NAME_MAX}
        fault={faults.name}
        value={name}
        set={setName}
      />
      {problem && <ProblemNote problem={problem} />}
      <p class="actions">
        <button type="submit" class="main">
          {button}
        </button>
      </p>
    </form>
  );
}

function Frame({ title, children }: { title: string; children: ComponentChildren }) {
  return (
    <section class="pairing" data-testid="pairing">
      <h1>{title}</h1>
      {children}
    </section>
  );
}
