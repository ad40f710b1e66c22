import { useState } from 'preact/hooks';
import type { RecordingView } from '../../server/api/contract/recording.ts';
import { Field } from '../form/field.tsx';
import { NumberField } from '../form/number-field.tsx';
import { inputTime, likelyStart, timeOfInput, whatItIs } from './log-text.ts';

interface Props {
  readonly log: RecordingView;
  readonly begin: (startMs: number, rateHz: number | null) => void;
  readonly drop: () => void;
}

const USUAL_RATE_HZ = 50;
const SIGNALS_SHOWN = 10;

/** What was found in an uploaded log, and fields for what it does not contain. */
export function LogForm({ log, begin, drop }: Props) {
  const { survey, name } = log;
  const [rateHz, setRate] = useState<number | null>(USUAL_RATE_HZ);
  const [typed, setTyped] = useState<string | null>(null);
  const [nowMs] = useState(() => Date.now());
  const likely = likelyStart(log, rateHz, nowMs);
  const startMs = typed === null ? likely.startMs : timeOfInput(typed);
  const rateWanted = survey.clock === null;
  const signals = survey.signals.slice(0, SIGNALS_SHOWN).join(', ');
  return (
    <form
      class="log-form"
      data-testid="log-form"
      onSubmit={(event) => {
        event.preventDefault();
        if (startMs !== null) begin(startMs, rateWanted ? rateHz : null);
      }}
    >
      <p>
        <strong>{name}:</strong> {whatItIs(log)}
      </p>
      <p class="quiet">
        Signals: {signals}
        {survey.signals.length > SIGNALS_SHOWN && ` and ${survey.signals.length - SIGNALS_SHOWN} more`}.
      </p>
      <div class="log-fields">
        <Field id="log-start" label="Started" hint={typed === null ? likely.from : 'In the time of this device.'}>
          {(ties) => (
            <input
              {...ties}
              type="datetime-local"
              step={1}
              required
              value={typed ?? inputTime(likely.startMs)}
              onInput={(event) => setTyped(event.currentTarget.value)}
            />
          )}
        </Field>
        {rateWanted && (
          <NumberField
            id="log-rate"
            label="Lines a second"
            value={rateHz}
            digits={0}
            unit="1/s"
            bounds={{ exclusiveMinimum: 0 }}
            hint="As the sketch sent them: lengths and times depend on it."
            set={setRate}
          />
        )}
      </div>
      <p class="actions">
        <button
          type="submit"
          class="main"
          disabled={startMs === null || (rateWanted && !(rateHz !== null && rateHz > 0))}
        >
          Import as a run
        </button>
        <button type="button" class="plain" onClick={drop}>
          Discard the log
        </button>
      </p>
    </form>
  );
}
