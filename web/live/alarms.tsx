import { signal } from '@preact/signals';
import { awaitsAcknowledgement, isActive, isLatched } from '../../server/alarm/life-cycle.ts';
import type { AlarmView } from '../../server/api/contract.ts';
import { live, nowMs } from '../service/live-store.ts';
import { asProblem, request, type ServiceProblem } from '../service/request.ts';
import { ProblemNote } from '../shell/problem-note.tsx';
import { Shape, type ShapeOf } from '../shell/shape.tsx';
import { PRIORITY_WORDS, STATE_WORDS } from '../words/names.ts';
import { counted, unbroken } from '../words/numbers.ts';
import { ago, clock } from '../words/times.ts';

export const PRIORITY_SHAPE: Record<AlarmView['priority'], ShapeOf> = {
  high: 'danger',
  medium: 'abnormal',
  low: 'notice',
};

const failed = signal<ServiceProblem | null>(null);

async function acknowledge(path: string): Promise<void> {
  try {
    await request('POST', path, {});
    failed.value = null;
  } catch (thrown) {
    failed.value = asProblem(thrown);
  }
}

/** What stands against the line now: each alarm as a sentence, what to check first, and the answer to it. */
export function Alarms() {
  const alarms = live.value?.alarms ?? [];
  const open = alarms.filter((alarm) => awaitsAcknowledgement(alarm.state));
  return (
    <section class="alarms" aria-labelledby="alarms-title">
      <header class="section-head">
        <h2 id="alarms-title">Alarms</h2>
        {open.length > 1 && (
          <button type="button" class="plain" onClick={() => acknowledge('/api/alarms/acknowledge-all')}>
            Acknowledge all {open.length}
          </button>
        )}
      </header>
      {failed.value && <ProblemNote problem={failed.value} />}
      {alarms.length === 0 ? (
        <p class="quiet">None. Nothing stands against the strand, the heat or the link.</p>
      ) : (
        <ul class="alarm-list">
          {alarms.map((alarm) => (
            <AlarmItem key={alarm.id} alarm={alarm} />
          ))}
        </ul>
      )}
    </section>
  );
}

function AlarmItem({ alarm }: { alarm: AlarmView }) {
  const answered = !awaitsAcknowledgement(alarm.state);
  const over = !isActive(alarm.state);
  return (
    <li
      class={`alarm ${alarm.priority}${answered ? ' answered' : ''}${over ? ' over' : ''}`}
      data-testid="alarm"
      data-type={alarm.type}
      data-state={alarm.state}
      data-alarm={alarm.id}
    >
      <Shape of={PRIORITY_SHAPE[alarm.priority]} size={26} />
      <div class="alarm-body">
        <p class="alarm-meta">
          <strong>{PRIORITY_WORDS[alarm.priority]}</strong> · {alarm.title} · <span>{STATE_WORDS[alarm.state]}</span>
          {answered && alarm.acknowledgedBy && <> by {alarm.acknowledgedBy}</>}
        </p>
        <p class="alarm-sentence">{unbroken(alarm.sentence)}</p>
        {alarm.firstCheck && (
          <p>
            <span class="lead">Check first:</span> {alarm.firstCheck}
          </p>
        )}
        {alarm.caution && (
          <p class="caution">
            <span class="lead">Caution:</span> {alarm.caution}
          </p>
        )}
        <p class="fine">
          Since {clock(alarm.raisedMs)}, {ago(alarm.raisedMs, nowMs.value)}
          {alarm.occurrences > 1 &&
            `; ${counted(alarm.occurrences, 'time')}, last ${ago(alarm.lastOccurredMs, nowMs.value)}`}
          {over && alarm.returnedMs !== null && `; over since ${clock(alarm.returnedMs)}`}
        </p>
      </div>
      {!answered && (
        <button
          type="button"
          class="main"
          data-testid="acknowledge"
          aria-label={`Acknowledge ${alarm.title}`}
          onClick={() => acknowledge(`/api/alarms/${alarm.id}/acknowledge`)}
        >
          Acknowledge
        </button>
      )}
      {answered && isLatched(alarm.state) && (
        <button
          type="button"
          class="main"
          data-testid="reset"
          aria-label={`Reset ${alarm.title}`}
          onClick={() => acknowledge(`/api/alarms/${alarm.id}/reset`)}
        >
          Reset
        </button>
      )}
    </li>
  );
}
