import { useState } from 'preact/hooks';
import type { RunDetail } from '../../server/api/contract/runs-and-spools.ts';
import { clock, day } from '../format/times.ts';
import { call } from '../service/call.ts';
import { asProblem, type ServiceProblem } from '../service/request.ts';
import { may } from '../service/session.ts';
import { ProblemNote } from '../shell/problem-note.tsx';
import { Shape } from '../shell/shape.tsx';

/** Corrects the date of a run that a wrong clock dated, and takes that back. */
export function DatePart({ detail, changed }: { detail: RunDetail; changed: () => void }) {
  const { run, dates } = detail;
  const { correctedStartMs, originalStartMs, isKept } = dates;
  const [problem, setProblem] = useState<ServiceProblem | null>(null);
  if (correctedStartMs === null && originalStartMs === null) return null;
  const use = async (which: 'corrected' | 'original') => {
    try {
      await call('PUT /api/runs/:id/date', { params: { id: run.id }, body: { use: which } });
      setProblem(null);
      changed();
    } catch (thrown) {
      setProblem(asProblem(thrown));
    }
  };
  const text = (ms: number) => `${day(ms, run.timeZone)}, ${clock(ms, run.timeZone)}`;
  return (
    <section class="no-print" aria-label="Date of the run" data-testid="run-date">
      {problem && <ProblemNote problem={problem} />}
      {correctedStartMs === null ? (
        <p class="fine">
          The date of this run was corrected. It had started on {text(originalStartMs ?? 0)}.{' '}
          {may('manage') && (
            <button type="button" class="plain" data-testid="date-back" onClick={() => use('original')}>
              Move it back
            </button>
          )}
        </p>
      ) : isKept ? (
        <p class="fine">
          The clock of the machine was set during this run. Its date was kept.{' '}
          {may('manage') && (
            <button type="button" class="plain" onClick={() => use('corrected')}>
              Move it to {text(correctedStartMs)}
            </button>
          )}
        </p>
      ) : (
        <div class="problem">
          <Shape of="abnormal" size={20} />
          <div>
            <p>
              The date of this run is wrong: the clock of this machine was set during the run. It started on{' '}
              {text(correctedStartMs)}.
            </p>
            {may('manage') ? (
              <p class="actions">
                <button type="button" data-testid="date-move" onClick={() => use('corrected')}>
                  Move it to {text(correctedStartMs)}
                </button>
                <button type="button" class="plain" onClick={() => use('original')}>
                  Keep its date
                </button>
              </p>
            ) : (
              <p class="fine">A device that may manage can correct it.</p>
            )}
          </div>
        </div>
      )}
    </section>
  );
}
