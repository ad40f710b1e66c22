import { useState } from 'preact/hooks';
import { awaitsAcknowledgement } from '../../server/alarm/life-cycle.ts';
import type { SeenLineView } from '../../server/api/contract/lines.ts';
import { alarmAnswered } from '../alarms/name-question.tsx';
import { counted, diameter, metres, unbroken } from '../format/numbers.ts';
import { call } from '../service/call.ts';
import { asProblem, type ServiceProblem } from '../service/request.ts';
import { may } from '../service/session.ts';
import { ProblemNote } from '../shell/problem-note.tsx';
import { Shape } from '../shell/shape.tsx';
import { StrandStrip } from './strand-strip.tsx';

/** One line: its sentence, its strand, how full its spool is, and the alarm that waits for an answer. */
export function LineRow({ line, wall = false }: { line: SeenLineView; wall?: boolean }) {
  const { severity, connection } = line;
  const lost = connection === 'lost';
  return (
    <li class={`line-row ${severity}`} data-testid="line" data-line={line.id} data-severity={severity}>
      <div class="line-text">
        <Shape of={severity} size={wall ? 40 : 26} />
        <div>
          <h2>{wall ? line.name : <a href={line.address === '' ? '/' : line.address}>{line.name}</a>}</h2>
          <p class="line-sentence">{unbroken(line.sentence)}</p>
          {line.notes.map((note) => (
            <p key={note} class="fine">
              {note}
            </p>
          ))}
        </div>
      </div>
      <StrandStrip line={line} stale={lost} />
      <SpoolFill line={line} />
      {!wall && <Answer line={line} />}
    </li>
  );
}

function SpoolFill({ line: { spool, diameterMm, connection, limits } }: { line: SeenLineView }) {
  // Never seen: nothing is known of it.
  if (limits === null) return <div class="line-spool" />;
  const share = spool?.capacityMm ? Math.min(1, spool.woundMm / spool.capacityMm) : null;
  return (
    <div class={`line-spool${connection === 'lost' ? ' last-seen' : ''}`}>
      <p>
        {connection === 'lost' && 'Last '}
        <span class="line-figure">{diameterMm === null ? '–' : diameter(diameterMm)}</span> mm
      </p>
      <div class="spool-fill" aria-hidden="true">
        <div style={{ width: `${(share ?? 0) * 100}%` }} />
      </div>
      <p>
        {spool === null
          ? 'No spool'
          : `Spool ${spool.ordinal}: ${metres(spool.woundMm, 0)}${spool.capacityMm ? ` of ${metres(spool.capacityMm, 0)}` : ''} m`}
      </p>
    </div>
  );
}

/** The most urgent alarm that waits for an answer, and the button that answers it. */
function Answer({ line }: { line: SeenLineView }) {
  const [problem, setProblem] = useState<ServiceProblem | null>(null);
  const alarm = line.alarms.find(({ state }) => awaitsAcknowledgement(state));
  // What a line that is gone said last may be over.
  if (alarm === undefined || line.connection === 'lost') return null;
  const press = async () => {
    try {
      if (line.id === 0) await call('POST /api/alarms/:id/acknowledge', { params: { id: alarm.id } });
      else
        await call('POST /api/lines/:id/alarms/:alarmId/acknowledge', { params: { id: line.id, alarmId: alarm.id } });
      setProblem(null);
      alarmAnswered();
    } catch (thrown) {
      setProblem(asProblem(thrown));
    }
  };
  return (
    <div class="line-alarm">
      <p>
        <strong>{alarm.title}.</strong> {alarm.firstCheck}
        {line.toAnswer > 1 && ` ${counted(line.toAnswer - 1, 'more alarm', 'more alarms')} to answer.`}
      </p>
      {may('act') && line.mayAcknowledge ? (
        <button
          type="button"
          class="main"
          data-testid="acknowledge"
          aria-label={`Acknowledge ${alarm.title} on ${line.name}`}
          onClick={press}
        >
          Acknowledge
        </button>
      ) : (
        <p class="fine">Acknowledge it on the page of that line.</p>
      )}
      {problem && <ProblemNote problem={problem} />}
    </div>
  );
}
