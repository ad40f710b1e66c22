import { useState } from 'preact/hooks';
import type { PeopleView } from '../../server/api/contract/people.ts';
import { clock, shortDay } from '../format/times.ts';
import { nowMs } from '../service/live-store.ts';
import { asProblem, type ServiceProblem } from '../service/request.ts';
import { ProblemNote } from '../shell/problem-note.tsx';
import { Shape } from '../shell/shape.tsx';
import { Term } from '../terms/term.tsx';
import { confirmDrill, startDrill } from './people-store.ts';
import { confirmationText, deliveryText, drillText } from './people-text.ts';

const SHAPES = { waiting: 'notice', all: 'calm', some: 'abnormal', none: 'danger' } as const;

/** The alarm test, which takes the same route as a real alarm, and who confirmed it. */
export function DrillPart({ view }: { view: PeopleView }) {
  const [problem, setProblem] = useState<ServiceProblem | null>(null);
  const [latest, ...older] = view.drills;
  const reachable = view.contacts.some(({ channelIds }) => channelIds.length > 0);
  const run = (act: Promise<void>) => act.then(() => setProblem(null)).catch((thrown) => setProblem(asProblem(thrown)));
  return (
    <section class="part" aria-labelledby="drill-title">
      <div class="part-intro">
        <h2 id="drill-title">
          <Term of="alarmTest">Test</Term>
        </h2>
        <p>
          A test alarm is sent to everyone just as a real one would be. Each person confirms with one tap, on the link
          in the message or here.
        </p>
      </div>
      <div>
        {latest && (
          <div class="drill" data-testid="drill" data-outcome={latest.outcome}>
            <Shape of={SHAPES[latest.outcome]} size={28} />
            <div>
              <p class="drill-outcome" role="status">
                {drillText(latest, nowMs.value)}
              </p>
              <p class="quiet">
                Alarm test {latest.id}, {shortDay(latest.startedMs)} {clock(latest.startedMs)}, started by {latest.by}.
              </p>
              <ul class="drill-people">
                {latest.people.map((person) => (
                  <li key={person.contactId}>
                    <p>
                      {person.name}: {confirmationText(latest.startedMs, person.confirmedMs)}
                      {person.confirmedMs === null && (
                        <span class="fine"> {deliveryText(latest, person.name, view)}</span>
                      )}
                    </p>
                    {latest.outcome === 'waiting' && person.confirmedMs === null && (
                      <button type="button" onClick={() => run(confirmDrill(latest.id, person.contactId))}>
                        I got it<span class="visually-hidden">, {person.name}</span>
                      </button>
                    )}
                  </li>
                ))}
              </ul>
            </div>
          </div>
        )}
        {problem && <ProblemNote problem={problem} />}
        <p class="actions">
          <button
            type="button"
            class={latest?.outcome === 'waiting' || !reachable ? '' : 'main'}
            disabled={!reachable || latest?.outcome === 'waiting'}
            onClick={() => run(startDrill())}
          >
            Start an alarm test
          </button>
          {!reachable && <span class="quiet">No one can be reached yet.</span>}
        </p>
        {older.length > 0 && (
          <details>
            <summary>Earlier alarm tests</summary>
            <ul class="fine">
              {older.map((drill) => (
                <li key={drill.id}>
                  {shortDay(drill.startedMs)} {clock(drill.startedMs)}: {drillText(drill, nowMs.value)}
                </li>
              ))}
            </ul>
          </details>
        )}
      </div>
    </section>
  );
}
