import { useState } from 'preact/hooks';
import { awaitsAcknowledgement, isActive, isLatched } from '../../server/alarm/life-cycle.ts';
import type { AlarmView } from '../../server/api/contract/alarms.ts';
import { answerFailed } from '../alarms/alarm-actions.ts';
import { noAlarmText, stateText } from '../alarms/alarm-text.ts';
import { AcknowledgeAllButton, AnswerButton } from '../alarms/answer-button.tsx';
import { ShelvePanel } from '../alarms/shelve-panel.tsx';
import { SuppressedList } from '../alarms/suppressed-list.tsx';
import { PRIORITY_TEXT } from '../format/names.ts';
import { counted, unbroken } from '../format/numbers.ts';
import { ago, clock } from '../format/times.ts';
import { connection, lineNowMs, live, staleForMs } from '../service/live-store.ts';
import { may } from '../service/session.ts';
import { ProblemNote } from '../shell/problem-note.tsx';
import { PRIORITY_SHAPE, Shape } from '../shell/shape.tsx';

/** The active alarms: each as a sentence, with what to check first and the buttons to answer it. */
export function Alarms() {
  const alarms = live.value?.alarms ?? [];
  const suppressed = live.value?.suppressed ?? [];
  const open = alarms.filter((alarm) => awaitsAcknowledgement(alarm.state));
  // What a user silenced stays in sight. What is suppressed by design ends automatically.
  const byUser = suppressed.some(({ state }) => state !== 'suppressedByDesign');
  const how = byUser ? 'silenced' : 'suppressed';
  return (
    <section class="alarms" aria-labelledby="alarms-title">
      <header class="section-head">
        <h2 id="alarms-title" tabIndex={-1}>
          Alarms
        </h2>
        {open.length > 1 && <AcknowledgeAllButton count={open.length} />}
      </header>
      {answerFailed.value && <ProblemNote problem={answerFailed.value} />}
      {alarms.length === 0 ? (
        <NoAlarm />
      ) : (
        <ul>
          {alarms.map((alarm) => (
            <AlarmItem key={alarm.id} alarm={alarm} />
          ))}
          {cautionsOf(alarms).map((caution) => (
            <li key={caution} class="caution" data-testid="caution">
              <span class="lead">Caution:</span> {caution}
            </li>
          ))}
        </ul>
      )}
      {suppressed.length > 0 && (
        <details class="suppressed-alarms" open={byUser}>
          <summary data-testid="suppressed-alarms">
            {counted(suppressed.length, `${how} alarm`, `${how} alarms`)}
          </summary>
          <SuppressedList alarms={suppressed} />
        </details>
      )}
      <p class="fine">
        <a href="/alarms">All alarm types and their settings</a>
      </p>
    </section>
  );
}

/** Without a connection it is not known whether there is an alarm. */
function NoAlarm() {
  const lostForMs = connection.value.phase === 'lost' ? staleForMs.value : null;
  return <p class="quiet">{noAlarmText(live.value?.notWatched ?? [], lostForMs)}</p>;
}

/** Each caution once, however many alarms it belongs to. */
function cautionsOf(alarms: readonly AlarmView[]): readonly string[] {
  return [...new Set(alarms.map(({ caution }) => caution).filter((caution) => caution !== ''))];
}

function AlarmItem({ alarm }: { alarm: AlarmView }) {
  const [asking, setAsking] = useState(false);
  const answered = !awaitsAcknowledgement(alarm.state);
  const over = !isActive(alarm.state);
  const latched = isLatched(alarm.state);
  const panel = `shelve-${alarm.id}`;
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
          <strong>{PRIORITY_TEXT[alarm.priority]}</strong> · {alarm.title} · <span>{stateText(alarm)}</span>
        </p>
        <p class="alarm-sentence">
          {/* It is in the present tense. */}
          {over && <span class="lead">Reported: </span>}
          {unbroken(alarm.sentence)}
        </p>
        {alarm.firstCheck && (
          <p>
            <span class="lead">Check first:</span> {alarm.firstCheck}
          </p>
        )}
        {!answered && alarm.consequence && (
          <p>
            <span class="lead">If ignored:</span> {alarm.consequence}
          </p>
        )}
        <p class="fine">
          Since {clock(alarm.raisedMs)}, {ago(alarm.raisedMs, lineNowMs.value)}
          {alarm.occurrences > 1 &&
            `; ${counted(alarm.occurrences, 'time')}, last ${ago(alarm.lastOccurredMs, lineNowMs.value)}`}
          {over && alarm.returnedMs !== null && `; cleared at ${clock(alarm.returnedMs)}`}
          {latched && '; stays until someone resets it'}
        </p>
      </div>
      <p class="alarm-actions">
        <AnswerButton alarm={alarm} />
        {!over && may('act') && (
          <button
            type="button"
            data-testid="open-shelve"
            aria-expanded={asking}
            aria-controls={panel}
            aria-label={`Silence ${alarm.title}`}
            onClick={() => setAsking(!asking)}
          >
            Silence
          </button>
        )}
      </p>
      {asking && !over && <ShelvePanel alarm={alarm} id={panel} close={() => setAsking(false)} />}
    </li>
  );
}
