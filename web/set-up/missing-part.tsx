import { signal } from '@preact/signals';
import type { IncomingView } from '../../server/api/contract/incoming.ts';
import type { LineSettings } from '../../server/settings/line-settings.ts';
import { Part } from '../shell/part.tsx';
import { isSettling } from './incoming-store.ts';
import { GaugeQuestion, PathQuestion, PowerQuestion, WhichField } from './missing-questions.tsx';
import { CAN_SKIP, type Missing, progressOf } from './missing-steps.ts';
import { unsaved } from './signal-rows.ts';
import { isUnsentValue } from './unsent-values.ts';
import type { Signals } from './use-signals.ts';

const STORE = 'strandward.set-up.skipped';

/** What this device does not want to be asked again. */
const skipped = signal<readonly Missing[]>(
  (localStorage.getItem(STORE) ?? '').split(',').filter((one): one is Missing => CAN_SKIP.has(one as Missing)),
);

function setSkipped(next: readonly Missing[]): void {
  skipped.value = next;
  localStorage.setItem(STORE, next.join());
}

interface Props {
  readonly seen: IncomingView;
  readonly settings: LineSettings;
  readonly signals: Signals;
}

/** What is still needed to watch everything, one question each, with the field that answers it. */
export function MissingPart({ seen, settings, signals }: Props) {
  const { rows } = signals;
  const progress = progressOf(seen.missing, skipped.value);
  // A declined proposal leaves a question open, and needs no saving first.
  const awaitsSignals =
    unsaved(
      rows.filter(({ isDeclined }) => !isDeclined),
      settings.roles,
    ).total > 0;
  // Beside the signals, and in the row of a raw count.
  const asksAbove = (one: Missing) =>
    isUnsentValue(one) || (one === 'diameter' && rows.some(({ needsPins }) => needsPins));
  const asked = progress.open.filter((one) => !asksAbove(one));
  const isReady = progress.open.length === 0;
  return (
    <Part
      id="missing"
      title={isReady ? 'Ready' : 'Still needed'}
      lead={
        <>
          <span role="status">
            {progress.done} of {progress.total} done
          </span>
          <progress class="progress" max={progress.total} value={progress.done} aria-label="Set-up done" />
        </>
      }
    >
      {!isSettling.value && !awaitsSignals && asked.length < progress.open.length && (
        <p class="quiet">Answer what is asked above, too.</p>
      )}
      {isSettling.value ? (
        <p class="quiet">Reading the lines again …</p>
      ) : awaitsSignals ? (
        <p class="quiet">Confirm the signals above first. Then the rest is asked here.</p>
      ) : isReady ? (
        <p>
          <strong>Everything needed is set.</strong> <a href="/">Go to the live page</a>
        </p>
      ) : (
        asked.map((one) => (
          <section class="question" key={one} data-testid={`missing-${one}`}>
            <Question what={one} {...{ settings, signals }} />
            {CAN_SKIP.has(one) && (
              <p class="actions">
                <button type="button" onClick={() => setSkipped([...skipped.value, one])}>
                  {one === 'power' ? 'Fine, go on' : 'Skip for now'}
                </button>
              </p>
            )}
          </section>
        ))
      )}
      {!awaitsSignals && progress.skipped.length > 0 && (
        <details class="skipped">
          <summary>Skipped</summary>
          {progress.skipped.map((one) => (
            <section class="question" key={one}>
              <Question what={one} {...{ settings, signals }} />
            </section>
          ))}
        </details>
      )}
    </Part>
  );
}

function Question({ what, settings, signals }: { what: Missing } & Pick<Props, 'settings' | 'signals'>) {
  switch (what) {
    case 'diameter':
      return <WhichField title="Which of these is the diameter?" as="d" signals={signals} />;
    case 'temperature':
      return <WhichField title="Which of these is a temperature?" as="t1" signals={signals} />;
    case 'power':
      return <PowerQuestion signals={signals} />;
    case 'path':
      return <PathQuestion settings={settings} />;
    case 'pins':
      return <GaugeQuestion signals={signals} />;
    default:
      return null;
  }
}
