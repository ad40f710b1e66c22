import { useState } from 'preact/hooks';
import type { AlarmTypeView } from '../../server/api/alarm-contract.ts';
import { live } from '../service/live-store.ts';
import { say } from '../shell/notice.tsx';
import { answer } from './answer.ts';

const ZONES_MAX = 8;

/** Takes an alarm out of service: which, and why. */
export function OutOfServiceForm({ type, close }: { type: AlarmTypeView; close: () => void }) {
  const known = live.value?.zones ?? [];
  const zones =
    known.length > 0
      ? known.map(({ zone, name }) => ({ zone, words: `Zone ${zone}${name === `Zone ${zone}` ? '' : ` (${name})`}` }))
      : Array.from({ length: ZONES_MAX }, (_, i) => ({ zone: i + 1, words: `Zone ${i + 1}` }));
  const [zone, setZone] = useState(zones[0]!.zone);
  const [reason, setReason] = useState('');
  const [fault, setFault] = useState('');
  const id = `out-${type.type}`;
  const take = async () => {
    if (reason.trim() === '') {
      setFault('Say why, so that the next person knows when it can be returned.');
      document.getElementById(`${id}-why`)?.focus();
      return;
    }
    const body = { reason, ...(type.ofZone ? { zone } : {}) };
    const told = await answer(`/api/alarm-types/${type.type}/out-of-service`, body);
    if (told === null) return;
    say({ text: `${told.title} is out of service.` });
    close();
  };
  return (
    <form
      class="type-form"
      aria-label={`Take “${type.title}” out of service`}
      onSubmit={(event) => {
        event.preventDefault();
        take();
      }}
    >
      {type.ofZone && (
        <div class="field">
          <label for={`${id}-zone`}>Which zone</label>
          <select id={`${id}-zone`} value={zone} onChange={(event) => setZone(Number(event.currentTarget.value))}>
            {zones.map((one) => (
              <option key={one.zone} value={one.zone}>
                {one.words}
              </option>
            ))}
          </select>
        </div>
      )}
      <div class="field wide">
        <label for={`${id}-why`}>Why</label>
        <input
          id={`${id}-why`}
          type="text"
          maxLength={300}
          value={reason}
          aria-invalid={fault !== ''}
          aria-describedby={`${id}-hint`}
          onInput={(event) => {
            setReason(event.currentTarget.value);
            setFault('');
          }}
        />
        <span id={`${id}-hint`}>
          <span class="hint">Nobody is called for it, whatever happens, until somebody returns it. </span>
          {fault && <span class="fault">{fault}</span>}
        </span>
      </div>
      <p class="actions wide">
        <button type="submit" class="main">
          Take it out of service
        </button>
        <button type="button" onClick={close}>
          Cancel
        </button>
      </p>
    </form>
  );
}
