import { useRef } from 'preact/hooks';
import { headlineLength } from '../../server/alarm/headline-length.ts';
import { awaitsAcknowledgement, isActive } from '../../server/alarm/life-cycle.ts';
import type { AlarmView } from '../../server/api/contract/alarms.ts';
import type { LiveState } from '../../server/api/contract/live-state.ts';
import { AcknowledgeAllButton, AnswerButton } from '../alarms/answer-button.tsx';
import { undecided } from '../alerting/arrivals.ts';
import { unbroken } from '../format/numbers.ts';
import { clock, span } from '../format/times.ts';
import { connection, live, staleForMs } from '../service/live-store.ts';
import { Shape } from '../shell/shape.tsx';
import { BlobCountdown } from './blob-countdown.tsx';
import { instructionOf, spokenKey } from './headline-instruction.ts';

/** The headline, styled by severity, with what to do about it. On the wall it also reports a lost connection. */
export function Headline({ wall = false }: { wall?: boolean }) {
  const state = live.value;
  const lost = connection.value.phase === 'lost';
  if (state === null) {
    return (
      <div class="sentence">
        <h1 data-testid="sentence">Loading the state of the line…</h1>
      </div>
    );
  }
  if (lost) return wall ? <Lost /> : <LastSeen state={state} />;
  const { severity, sentence } = state;
  const alarm = state.alarms.find(({ id }) => id === state.sentenceAlarmId);
  return (
    <div class={`headline ${severity}`} data-severity={severity}>
      <div class={`sentence ${headlineLength(sentence)}`}>
        <Shape of={severity} size={40} />
        <h1 data-testid="sentence">{withLink(unbroken(sentence), wall)}</h1>
      </div>
      {!wall && alarm && <WhatToDo alarm={alarm} alarms={state.alarms} />}
      <BlobCountdown wall={wall} />
      <Spoken state={state} />
    </div>
  );
}

/** The first instruction of the alarm in the headline, and the button that answers it. */
function WhatToDo({ alarm, alarms }: { alarm: AlarmView; alarms: readonly AlarmView[] }) {
  const open = alarms.filter(({ state }) => awaitsAcknowledgement(state));
  const past = !isActive(alarm.state);
  const instruction = past || isDealtWith(alarm) ? null : instructionOf(alarm);
  return (
    <div class="what-to-do" data-testid="what-to-do">
      {instruction !== null && <p class="instruction">{unbroken(instruction)}</p>}
      <p class="actions">
        {past && open.length > 1 ? (
          <AcknowledgeAllButton count={open.length} look="main" />
        ) : (
          <AnswerButton alarm={alarm} />
        )}
        <a href="#alarms-title">{open.length > 1 ? `All ${open.length} alarms` : 'Details'}</a>
      </p>
    </div>
  );
}

/** Someone has decided about each blob or thin spot, so nothing is left to do, although the alarm takes a minute to return. */
function isDealtWith({ state, type }: AlarmView): boolean {
  const isOfSection = type === 'blob' || type === 'blobInDoubt' || type === 'neck';
  return state === 'acknowledged' && isOfSection && live.value !== null && undecided(live.value).length === 0;
}

/** Reads the headline out when the state changes, but not for each new number in it. */
function Spoken({ state }: { state: LiveState }) {
  const spoken = useRef({ key: '', text: '' });
  const key = spokenKey(state);
  if (key !== spoken.current.key) spoken.current = { key, text: state.sentence };
  return (
    <p class="visually-hidden" aria-live={state.severity === 'danger' ? 'assertive' : 'polite'} data-testid="spoken">
      {spoken.current.text}
    </p>
  );
}

/** Links the headline to the page that it refers to. */
function withLink(sentence: string, wall: boolean) {
  const at = wall ? -1 : sentence.indexOf('Set-up');
  if (at < 0) return sentence;
  return (
    <>
      {sentence.slice(0, at)}
      <a href="/set-up">Set-up</a>
      {sentence.slice(at + 6)}
    </>
  );
}

/** The last headline before the connection was lost, below the banner that reports the loss. Struck out it would look answered. */
function LastSeen({ state }: { state: LiveState }) {
  return (
    <div class="headline last-seen">
      <p class="fine">Last seen at {clock(connection.value.sinceMs)}</p>
      <h1 data-testid="sentence">{unbroken(state.sentence)}</h1>
    </div>
  );
}

/** A lost connection must be readable from four metres, so it replaces the last headline. */
function Lost() {
  return (
    <div class="headline danger" data-severity="danger" role="alert">
      <div class="sentence">
        <Shape of="danger" size={40} />
        <h1 data-testid="sentence">
          No connection to the service<span aria-hidden="true"> for {unbroken(span(staleForMs.value ?? 0))}</span>: this
          page can't see the line.
        </h1>
      </div>
    </div>
  );
}
