import { useEffect, useState } from 'preact/hooks';
import type { AlarmLoadView } from '../../server/api/contract/alarm-journal.ts';
import type { RunView } from '../../server/api/contract/runs-and-spools.ts';
import { wasWatched } from '../../server/entities/run.ts';
import { JournalLink } from '../alarms/journal-link.tsx';
import { call } from '../service/call.ts';
import { asProblem, isAbort, type ServiceProblem } from '../service/request.ts';
import { ProblemNote } from '../shell/problem-note.tsx';
import { figureRows, figureText } from './alarm-figure-text.ts';

/** The alarm load of a run by the measures of EEMUA 191. A new `version` requests the figures again. */
export default function AlarmFigures({ run, version }: { run: RunView; version: number }) {
  const [figures, setFigures] = useState<AlarmLoadView | null>(null);
  const [problem, setProblem] = useState<ServiceProblem | null>(null);
  useEffect(() => {
    const controller = new AbortController();
    call('GET /api/runs/:id/alarm-load', { params: { id: run.id }, signal: controller.signal }).then(
      (answer) => {
        setFigures(answer);
        setProblem(null);
      },
      (thrown) => {
        if (!isAbort(thrown)) setProblem(asProblem(thrown));
      },
    );
    return () => controller.abort();
  }, [run.id, version]);
  const journal = `/api/runs/${run.id}/alarm-journal`;
  return (
    <div class="alarm-load">
      {problem && <ProblemNote problem={problem} />}
      {!figures && !problem && <p class="quiet">Counting …</p>}
      {figures && (
        <>
          <p data-testid="alarm-figures">{figureText(figures, run.timeZone, wasWatched(run))}</p>
          {figures.alarms > 0 && (
            <details class="no-print">
              <summary>All figures</summary>
              <table>
                <thead>
                  <tr>
                    <th scope="col">Measure</th>
                    <th scope="col">This run</th>
                    <th scope="col">Recommended</th>
                  </tr>
                </thead>
                <tbody>
                  {figureRows(figures).map(([measure, here, good]) => (
                    <tr key={measure}>
                      <th scope="row">{measure}</th>
                      <td>{here}</td>
                      <td>{good}</td>
                    </tr>
                  ))}
                </tbody>
              </table>
              <p class="fine">Counted as EEMUA 191 and IEC 62682 do.</p>
            </details>
          )}
          <p class="fine no-print">
            The alarm journal, with who did each step and from where: <JournalLink path={journal} format="csv" />,{' '}
            <JournalLink path={journal} format="json" />.
          </p>
        </>
      )}
    </div>
  );
}
