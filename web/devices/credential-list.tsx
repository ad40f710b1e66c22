import { useState } from 'preact/hooks';
import type { CredentialView } from '../../server/api/contract/devices.ts';
import type { Right } from '../../server/entities/device.ts';
import { ago } from '../format/times.ts';
import { call } from '../service/call.ts';
import { nowMs } from '../service/live-store.ts';
import { asProblem, type ServiceProblem } from '../service/request.ts';
import { me } from '../service/session.ts';
import { showNotice } from '../shell/notice.tsx';
import { ProblemNote } from '../shell/problem-note.tsx';
import { DEVICE_RIGHT_CHOICES, RIGHT_TEXT, TOKEN_RIGHT_CHOICES } from './right-text.ts';

interface Props {
  readonly kind: 'device' | 'token';
  readonly list: readonly CredentialView[];
  changed(): Promise<void>;
}

/** Devices or tokens, each with its right, which can be changed, and when it was last used. Removing asks once: it cannot be undone. */
export function CredentialList({ kind, list, changed }: Props) {
  const [asking, setAsking] = useState<number | null>(null);
  const [problem, setProblem] = useState<ServiceProblem | null>(null);
  const remove = async ({ id, name }: CredentialView) => {
    try {
      if (kind === 'device') await call('DELETE /api/devices/:id', { params: { id } });
      else await call('DELETE /api/tokens/:id', { params: { id } });
      showNotice({ text: `${name} is removed and has no access any more.` });
      setProblem(null);
      setAsking(null);
      await changed();
    } catch (thrown) {
      setProblem(asProblem(thrown));
    }
  };
  const change = async ({ id, name }: CredentialView, right: Right) => {
    try {
      if (kind === 'token') await call('PUT /api/tokens/:id', { params: { id }, body: { right } });
      else if (right !== 'metrics') await call('PUT /api/devices/:id', { params: { id }, body: { right } });
      showNotice({ text: `${name} ${RIGHT_TEXT[right]} now.` });
      setProblem(null);
      await changed();
    } catch (thrown) {
      setProblem(asProblem(thrown));
    }
  };
  return (
    <>
      {problem && <ProblemNote problem={problem} />}
      {list.length > 0 && (
        <ul class="contacts">
          {list.map((one) => {
            const own = me.value?.device?.id === one.id;
            return (
              <li key={one.id} data-testid={kind}>
                <div class="channel-text">
                  <p>
                    <strong>{one.name}</strong> <span class="quiet">{RIGHT_TEXT[one.right]}</span>
                    {own && <span class="quiet"> · this device</span>}
                  </p>
                  <p class="quiet">
                    {one.lastSeenMs === null ? 'Not used yet' : `Last used ${ago(one.lastSeenMs, nowMs.value)}`}, added
                    by {one.createdBy}
                  </p>
                </div>
                {asking === one.id ? (
                  <p class="row-actions">
                    <button type="button" class="plain" onClick={() => remove(one)}>
                      {own ? 'Remove, and sign out here' : 'Remove for good'}
                    </button>
                    <button type="button" class="plain" onClick={() => setAsking(null)}>
                      Keep
                    </button>
                  </p>
                ) : (
                  <p class="row-actions">
                    <select
                      aria-label={`What ${one.name} may do`}
                      value={one.right}
                      onChange={(event) => void change(one, event.currentTarget.value as Right)}
                    >
                      {(kind === 'device' ? DEVICE_RIGHT_CHOICES : TOKEN_RIGHT_CHOICES).map(([right, text]) => (
                        <option key={right} value={right}>
                          {text}
                        </option>
                      ))}
                    </select>
                    <button
                      type="button"
                      class="plain"
                      aria-label={`Remove ${one.name}`}
                      onClick={() => setAsking(one.id)}
                    >
                      Remove
                    </button>
                  </p>
                )}
              </li>
            );
          })}
        </ul>
      )}
    </>
  );
}
