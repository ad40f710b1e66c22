import { useState } from 'preact/hooks';
import type { AlarmTypeView } from '../../server/api/contract/alarms.ts';
import { TextField } from '../form/text-field.tsx';
import { call } from '../service/call.ts';
import { live } from '../service/live-store.ts';
import { showNotice } from '../shell/notice.tsx';
import { answer } from './alarm-actions.ts';

const ZONES_MAX = 8;

/** Takes an alarm type out of service, with a reason and, if it is of a zone, the zones. */
export function OutOfServiceForm({ type, close }: { type: AlarmTypeView; close: () => void }) {
  const known = live.value?.zones ?? [];
  const zones =
    known.length > 0
      ? known.map(({ zone, name }) => ({ zone, text: `Zone ${zone}${name === `Zone ${zone}` ? '' : ` (${name})`}` }))
      : Array.from({ length: ZONES_MAX }, (_, i) => ({ zone: i + 1, text: `Zone ${i + 1}` }));
  const [chosen, setChosen] = useState<readonly number[]>(zones.length === 1 ? zones.map(({ zone }) => zone) : []);
  const [reason, setReason] = useState('');
  const [fault, setFault] = useState<'zones' | 'why' | null>(null);
  const id = `out-${type.type}`;
  const toggle = (zone: number) => {
    setChosen(chosen.includes(zone) ? chosen.filter((one) => one !== zone) : [...chosen, zone]);
    setFault(null);
  };
  const take = async () => {
    const missing = type.perZone && chosen.length === 0 ? 'zones' : reason.trim() === '' ? 'why' : null;
    setFault(missing);
    if (missing !== null) {
      document.getElementById(missing === 'why' ? `${id}-why` : `${id}-zone-${zones.at(0)?.zone}`)?.focus();
      return;
    }
    const body = { reason, ...(type.perZone ? { zones: chosen.toSorted((a, b) => a - b) } : {}) };
    const taken = await answer(
      call('POST /api/alarm-types/:type/out-of-service', { params: { type: type.type }, body }),
    );
    if (taken === null) return;
    const titles = taken.map(({ title }) => title).join('; ');
    showNotice({ text: `${titles} ${taken.length === 1 ? 'is' : 'are'} out of service.` });
    close();
  };
  return (
    <form
      class="form type-form"
      aria-label={`Take “${type.title}” out of service`}
      onSubmit={(event) => {
        event.preventDefault();
        void take();
      }}
    >
      {type.perZone && (
        <fieldset class="ticks wide" aria-describedby={`${id}-zones-hint`}>
          <legend>Which zones</legend>
          {zones.map(({ zone, text }) => (
            <label key={zone}>
              <input
                id={`${id}-zone-${zone}`}
                type="checkbox"
                checked={chosen.includes(zone)}
                onChange={() => toggle(zone)}
              />
              {text}
            </label>
          ))}
          <span id={`${id}-zones-hint`}>{fault === 'zones' && <span class="fault">Choose the zones.</span>}</span>
        </fieldset>
      )}
      <TextField
        id={`${id}-why`}
        label="Why"
        hint="Whatever happens, no one is notified until someone returns it to service."
        fault={fault === 'why' ? 'Say why, so that the next person knows when to return it to service.' : null}
        wide
        maxLength={300}
        value={reason}
        set={(text) => {
          setReason(text);
          setFault(null);
        }}
      />
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
