import { useState } from 'preact/hooks';
import { awaitsAcknowledgement, isLatched } from '../../server/alarm/life-cycle.ts';
import type { AlarmView } from '../../server/api/contract/alarms.ts';
import { call } from '../service/call.ts';
import { asProblem, type ServiceProblem } from '../service/request.ts';
import { may } from '../service/session.ts';
import { ProblemNote } from '../shell/problem-note.tsx';
import { alarmAnswered } from './name-question.tsx';

/** What an alarm waits for: Acknowledge, then Reset if it is latched; nothing otherwise. */
export function AnswerButton({ alarm }: { alarm: AlarmView }) {
  const params = { id: alarm.id };
  if (awaitsAcknowledgement(alarm.state)) {
    return (
      <Answering
        name="acknowledge"
        text="Acknowledge"
        label={`Acknowledge ${alarm.title}`}
        send={() => call('POST /api/alarms/:id/acknowledge', { params })}
      />
    );
  }
  if (!isLatched(alarm.state)) return null;
  return (
    <Answering
      name="reset"
      text="Reset"
      label={`Reset ${alarm.title}`}
      send={() => call('POST /api/alarms/:id/reset', { params })}
    />
  );
}

/** Acknowledges several at once. */
export function AcknowledgeAllButton({ count, look = 'plain' }: { count: number; look?: 'main' | 'plain' }) {
  return (
    <Answering
      name="acknowledge-all"
      look={look}
      text={`Acknowledge all ${count}`}
      send={() => call('POST /api/alarms/acknowledge-all')}
    />
  );
}

interface Answer {
  readonly name: string;
  readonly look?: 'main' | 'plain';
  readonly text: string;
  readonly label?: string;
  send(): Promise<unknown>;
}

/** A button with its own problem beside it. */
function Answering({ name, look = 'main', text, label, send }: Answer) {
  const [problem, setProblem] = useState<ServiceProblem | null>(null);
  if (!may('act')) return null;
  const press = async () => {
    try {
      await send();
      setProblem(null);
      alarmAnswered();
    } catch (thrown) {
      setProblem(asProblem(thrown));
    }
  };
  return (
    <>
      <button type="button" class={look} data-testid={name} aria-label={label} onClick={press}>
        {text}
      </button>
      {problem && <ProblemNote problem={problem} />}
    </>
  );
}
