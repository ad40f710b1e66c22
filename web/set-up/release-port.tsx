import { useState } from 'preact/hooks';
import { clock } from '../format/times.ts';
import { call } from '../service/call.ts';
import { live } from '../service/live-store.ts';
import { asProblem, type ServiceProblem } from '../service/request.ts';
import { ProblemNote } from '../shell/problem-note.tsx';

const RELEASE_S = 120;

/** Lets another program use the port, so that a sketch can be flashed without stopping the service. */
export function ReleasePort() {
  const [problem, setProblem] = useState<ServiceProblem | null>(null);
  const link = live.value?.link;
  const untilMs = link?.releasedUntilMs ?? null;
  const toggle = () => {
    const answer =
      untilMs === null
        ? call('POST /api/source/release', { body: { forS: RELEASE_S } })
        : call('POST /api/source/resume');
    answer.then(
      () => setProblem(null),
      (thrown) => setProblem(asProblem(thrown)),
    );
  };
  return (
    <div class="wide release-port" data-testid="release-port">
      <p class="actions" role="status">
        {untilMs !== null && <strong>Port released until {clock(untilMs)}.</strong>}
        <button type="button" class={untilMs === null ? undefined : 'main'} onClick={toggle}>
          {untilMs === null ? 'Release the port for 2 minutes' : 'Use it again now'}
        </button>
      </p>
      <p class="hint">
        {untilMs === null
          ? 'To flash a sketch. The port is opened again automatically; until then the line is not watched.'
          : 'Flash your sketch now. Nothing is watched, and no one is notified that the line is silent.'}
      </p>
      {problem && <ProblemNote problem={problem} />}
    </div>
  );
}
