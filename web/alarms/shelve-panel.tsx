import { useState } from 'preact/hooks';
import type { AlarmView } from '../../server/api/contract/alarms.ts';
import { TextField } from '../form/text-field.tsx';
import { live } from '../service/live-store.ts';
import { shelve } from './alarm-actions.ts';

interface Props {
  readonly alarm: AlarmView;
  readonly id: string;
  readonly close: () => void;
}

/** It silences every alarm of the type, not only the last occurrence. */
const silenceText = ({ title, subject }: AlarmView) =>
  subject === '' ? `Silence all “${title}” alarms for` : `Silence “${title}” for`;

/** Silences an alarm for a while: one button for each duration, wide enough for a thumb. */
export function ShelvePanel({ alarm, id, close }: Props) {
  const [reason, setReason] = useState('');
  const choices: readonly (readonly [text: string, forMin: number | null])[] = [
    ['10 min', 10],
    ...(alarm.longestShelfMin >= 60 ? ([['1 h', 60]] as const) : []),
    ...(alarm.longestShelfMin > 60 && live.value?.run ? ([['Until this run ends', null]] as const) : []),
  ];
  return (
    <fieldset class="shelve" id={id}>
      <legend>{silenceText(alarm)}</legend>
      <div class="shelve-choices">
        {choices.map(([text, forMin]) => (
          <button
            key={text}
            type="button"
            data-testid="shelve"
            data-min={forMin ?? 'run'}
            aria-label={`Silence ${alarm.title} ${forMin === null ? 'until this run ends' : `for ${text}`}`}
            onClick={async () => {
              if (!(await shelve(alarm, forMin, reason))) return;
              close();
              // The alarm leaves the list. Keyboard and screen-reader users stay at the alarms.
              document.getElementById('alarms-title')?.focus();
            }}
          >
            {text}
          </button>
        ))}
      </div>
      <TextField
        id={`${id}-why`}
        label="Reason (optional, saved in the journal)"
        maxLength={300}
        value={reason}
        set={setReason}
      />
      <p class="fine">
        {alarm.longestShelfMin < 60 ? `A fire hazard can be silenced for ${alarm.longestShelfMin} min at most. ` : ''}
        No sound and no messages until then. If the cause is still there, the alarm returns.
      </p>
    </fieldset>
  );
}
