import { useEffect, useState } from 'preact/hooks';
import type { RunView } from '../../server/api/contract/runs-and-spools.ts';
import { partsOfRef, refOf } from '../../server/entities/run-ref.ts';
import { lotText } from '../format/names.ts';
import { counted, metres } from '../format/numbers.ts';
import { clock, day } from '../format/times.ts';
import { call } from '../service/call.ts';
import { live, refetchVersion } from '../service/live-store.ts';
import { asProblem, ServiceProblem } from '../service/request.ts';
import { useAnswer } from '../service/use-answer.ts';
import { ExampleMark } from '../shell/example-mark.tsx';
import { Fold } from '../shell/fold.tsx';
import { ProblemNote } from '../shell/problem-note.tsx';
import { go } from '../shell/router.ts';
import { groupedByText, pathOf, RUNS_MAX } from './compare-groups.ts';

/** What a line answered: its runs that wound strand, or why they are not known. */
type Answered = readonly ChoosableRun[] | ServiceProblem;
type ChoosableRun = RunView & { readonly ref: string; readonly lineId: number };

/** Selects the runs to compare, of this line and the others of the house. */
export function RunPicker({ chosen }: { chosen: readonly string[] }) {
  const [answers, setAnswers] = useState<ReadonlyMap<number, Answered>>(new Map());
  const [picked, setPicked] = useState<ReadonlySet<string>>(new Set(chosen));
  const lines = useAnswer(() => call('GET /api/lines'));
  const others = lines.view ?? (lines.problem === null ? null : []);
  const version = refetchVersion.value;
  const changed = live.value?.spoolBoundsRevision;
  const ask = (lineId: number, asked: Promise<RunView[]>) => {
    const put = (answered: Answered) => setAnswers((now) => new Map([...now, [lineId, answered]]));
    const choosable = (run: RunView) => ({ ...run, ref: refOf(lineId, run.id), lineId });
    asked.then(
      (runs) => put(runs.filter(({ woundMm }) => woundMm > 0).map(choosable)),
      (thrown) => put(asProblem(thrown)),
    );
  };
  useEffect(() => {
    ask(0, call('GET /api/runs'));
  }, [version, changed]);
  useEffect(() => {
    for (const { id } of lines.view ?? []) ask(id, call('GET /api/lines/:id/runs', { params: { id } }));
  }, [lines.view]);
  const known = [...answers.values()];
  const runs = known.flatMap((answered) => (answered instanceof ServiceProblem ? [] : answered));
  const pickedRuns = runs.filter(({ ref }) => picked.has(ref));
  const enough = pickedRuns.length >= 2 && pickedRuns.length <= RUNS_MAX;
  const choose = (ref: string, isPicked: boolean) =>
    setPicked((now) => new Set([...[...now].filter((one) => one !== ref), ...(isPicked ? [ref] : [])]));
  const listOf = (lineId: number) => <RunsOfLine answered={answers.get(lineId)} picked={picked} choose={choose} />;
  const titleOf = (lineId: number, name: string) => {
    const count = countIn(lineId, [...picked]);
    return count === 0 ? name : `${name}: ${count} chosen`;
  };
  const isComplete = others !== null && known.length > others.length;
  if (isComplete && runs.length < 2 && known.every((answered) => !(answered instanceof ServiceProblem)))
    return (
      <p class="quiet">
        You need two runs that wound strand; {runs.length === 1 ? 'so far there is one' : 'so far there is none'}.
      </p>
    );
  return (
    <form
      class="compare-picker"
      onSubmit={(event) => {
        event.preventDefault();
        if (enough) go(pathOf(groupedByText(pickedRuns)));
      }}
    >
      <fieldset>
        <legend>Choose two runs or more. Runs whose preparation is described in the same words form one group.</legend>
        {others === null && <p class="quiet">Fetching the runs …</p>}
        {others?.length === 0 && listOf(0)}
        {others !== null && others.length > 0 && (
          <div class="folds">
            {[{ id: 0, title: live.value?.lineName ?? 'This line' }, ...others].map(({ id, title }) => (
              <Fold
                key={id}
                title={titleOf(id, title)}
                isOpen={id === 0 || countIn(id, chosen) > 0}
                testId="runs-of-line"
              >
                {listOf(id)}
              </Fold>
            ))}
          </div>
        )}
      </fieldset>
      <p class="actions">
        <button type="submit" class="main" disabled={!enough}>
          {pickedRuns.length < 2 ? 'Choose at least two' : `Compare ${pickedRuns.length} runs`}
        </button>
        {pickedRuns.length > RUNS_MAX && <span class="quiet">{RUNS_MAX} at most</span>}
      </p>
    </form>
  );
}

function countIn(lineId: number, refs: readonly string[]): number {
  return refs.filter((ref) => partsOfRef(ref).lineId === lineId).length;
}

interface RunsOfLineProps {
  readonly answered: Answered | undefined;
  readonly picked: ReadonlySet<string>;
  readonly choose: (ref: string, isPicked: boolean) => void;
}

function RunsOfLine({ answered, picked, choose }: RunsOfLineProps) {
  if (answered === undefined) return <p class="quiet">Fetching the runs …</p>;
  if (answered instanceof ServiceProblem) return <ProblemNote problem={answered} />;
  if (answered.length === 0) return <p class="quiet">No run has wound strand yet.</p>;
  return (
    <ul>
      {answered.map((run) => (
        <li key={run.ref}>
          <label>
            <input
              type="checkbox"
              checked={picked.has(run.ref)}
              onChange={(event) => choose(run.ref, event.currentTarget.checked)}
            />
            <span>
              <strong>Run {run.id}</strong>
              {run.example && <ExampleMark />}, {day(run.startedMs, run.timeZone)}, {clock(run.startedMs, run.timeZone)}
              {run.endedMs === null && ', still running'}: {metres(run.woundMm, 1)}&nbsp;m, {counted(run.blobs, 'blob')}
              .
              <span class="fine">
                {run.lot ? lotText(run.lot) : 'No material entered: add it on the page of the run.'}
              </span>
            </span>
          </label>
        </li>
      ))}
    </ul>
  );
}
