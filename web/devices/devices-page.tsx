import { useEffect, useState } from 'preact/hooks';
import type { DevicesView } from '../../server/api/contract/devices.ts';
import { call } from '../service/call.ts';
import { refetchVersion } from '../service/live-store.ts';
import { asProblem, isAbort, type ServiceProblem } from '../service/request.ts';
import { ProblemNote } from '../shell/problem-note.tsx';
import { Shape } from '../shell/shape.tsx';
import '../styles/devices.css';
import { may, me } from '../service/session.ts';
import { CredentialList } from './credential-list.tsx';
import { InvitePart } from './invite-part.tsx';
import { TokenPart } from './token-part.tsx';

const LOAD_EVERY_MS = 2000;

/** Which devices and programs may use the service. */
export default function DevicesPage() {
  const [view, setView] = useState<DevicesView | null>(null);
  const [problem, setProblem] = useState<ServiceProblem | null>(null);
  const version = refetchVersion.value;
  const load = (signal?: AbortSignal) =>
    call('GET /api/devices', signal && { signal })
      .then((loaded) => {
        setView(loaded);
        setProblem(null);
      })
      .catch((thrown) => {
        if (!isAbort(thrown)) setProblem(asProblem(thrown));
      });
  // Not asked before it is known, because a refusal would be logged.
  const allowed = me.value !== null && may('manage');
  useEffect(() => {
    if (!allowed) return;
    const over = new AbortController();
    void load(over.signal);
    const timer = setInterval(load, LOAD_EVERY_MS, over.signal);
    return () => {
      clearInterval(timer);
      over.abort();
    };
  }, [version, allowed]);
  return (
    <div class="set-up people devices">
      <header class="page-head">
        <h1>Devices</h1>
        <p>
          Who may watch this line, act on it, or manage it.
          {view &&
            ` A browser on the machine itself ${view.accessKey ? 'has to be paired too, because there is an access key' : 'needs no pairing'}.`}
        </p>
      </header>
      {!may('manage') && <p>Only a device with the right to manage sees and changes this.</p>}
      {problem && <ProblemNote problem={problem} />}
      {allowed && view?.accessKey && (
        <p class="with-shape" data-testid="access-key">
          <Shape of="notice" size={18} />
          <span>
            Strandward was started with an access key, which pairs any device. Pairing replaces it: add your devices
            here, give programs tokens, then start without the key.
          </span>
        </p>
      )}
      {allowed && view && (
        <>
          <section class="part" aria-labelledby="devices-title">
            <div class="part-intro">
              <h2 id="devices-title">Phones and computers</h2>
              <p>
                A paired device stays signed in until it is removed, which also ends its notifications. The journal
                names it.
              </p>
            </div>
            <div>
              <CredentialList kind="device" list={view.devices} changed={load} />
              <InvitePart devices={view.devices} />
            </div>
          </section>
          <TokenPart tokens={view.tokens} changed={load} />
        </>
      )}
    </div>
  );
}
