import { useEffect, useState } from 'preact/hooks';
import type { RunView } from '../../server/api/contract/runs-and-spools.ts';
import { lotText } from '../format/names.ts';
import { counted, metres } from '../format/numbers.ts';
import { clock, day } from '../format/times.ts';
import { call } from '../service/call.ts';
import { live, refetchVersion } from '../service/live-store.ts';
import { asProblem, type ServiceProblem } from '../service/request.ts';
import { ExampleMark } from '../shell/example-mark.tsx';
import { ProblemNote } from '../shell/problem-note.tsx';
import { go } from '../shell/router.ts';
import { groupedByText, pathOf, RUNS_MAX } from './compare-groups.ts';

/** Selects the runs to compare. */
export function RunPicker({ chosen }: { chosen: readonly number[] }) {
  const [runs, setRuns] = useState<readonly RunView[] | null>(null);
  const [problem, setProblem] = useState<ServiceProblem | null>(null);
  const [picked, setPicked] = useState<ReadonlySet<number>>(new Set(chosen));
  const version = refetchVersion.value;
  const changed = live.value?.spoolBoundsRevision;
  useEffect(() => {
    call('GET /api/runs').then(setRuns, (thrown) => setProblem(asProblem(thrown)));
  }, [version, changed]);
  const wound = runs?.filter(({ woundMm }) => woundMm > 0);
  const pickedRuns = wound?.filter(({ id }) => picked.has(id)) ?? [];
  const enough = pickedRuns.length >= 2 && pickedRuns.length <= RUNS_MAX;
  return (
    <form
      class="compare-picker"
      onSubmit={(event) => {
        event.preventDefault();
        if (enough) go(pathOf(groupedByText(pickedRuns)));
      }}
    >
      {problem && <ProblemNote problem={problem} />}
      {!wound && !problem && <p class="quiet">Fetching the runs …</p>}
      {wound && wound.length < 2 && (
        <p class="quiet">
          You need two runs that wound strand; {wound.length === 1 ? 'so far there is one' : 'so far there is none'}.
        </p>
      )}
      {wound && wound.length >= 2 && (
        <>
          <fieldset>
            <legend>
              Choose two runs or more. Runs whose preparation is described in the same words form one group.
            </legend>
            <ul>
              {wound.map((run) => (
                <li key={run.id}>
                  <label>
                    <input
                      type="checkbox"
                      checked={picked.has(run.id)}
                      onChange={(event) => {
                        const next = new Set(picked);
                        if (event.currentTarget.checked) next.add(run.id);
                        else next.delete(run.id);
                        setPicked(next);
                      }}
                    />
                    <span>
                      <strong>Run {run.id}</strong>
                      {run.example && <ExampleMark />}, {day(run.startedMs, run.timeZone)},{' '}
                      {clock(run.startedMs, run.timeZone)}
                      {run.endedMs === null && ', still running'}: {metres(run.woundMm, 1)}&nbsp;m,{' '}
                      {counted(run.blobs, 'blob')}.
                      <span class="fine">
                        {run.lot ? lotText(run.lot) : 'No material entered: add it on the page of the run.'}
                      </span>
                    </span>
                  </label>
                </li>
              ))}
            </ul>
          </fieldset>
          <p class="actions">
            <button type="submit" class="main" disabled={!enough}>
              {pickedRuns.length < 2 ? 'Choose at least two' : `Compare ${pickedRuns.length} runs`}
            </button>
            {pickedRuns.length > RUNS_MAX && <span class="quiet">{RUNS_MAX} at most</span>}
          </p>
        </>
      )}
    </form>
  );
}
