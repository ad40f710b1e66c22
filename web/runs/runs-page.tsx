import { useEffect, useState } from 'preact/hooks';
import type { RunView } from '../../server/api/contract/runs-and-spools.ts';
import { unreadableText } from '../format/names.ts';
import { counted, metres } from '../format/numbers.ts';
import { clock, day, span } from '../format/times.ts';
import { call } from '../service/call.ts';
import { live, refetchVersion } from '../service/live-store.ts';
import { asProblem, type ServiceProblem } from '../service/request.ts';
import { ExampleMark } from '../shell/example-mark.tsx';
import { Needs } from '../shell/needs.tsx';
import { ProblemNote } from '../shell/problem-note.tsx';
import { Shape } from '../shell/shape.tsx';
import { BinList } from './bin-list.tsx';
import { Examples } from './examples.tsx';
import { LogImport } from './log-import.tsx';
import { RunImport } from './run-import.tsx';
import { troubleText, verdictWord } from './verdict-text.ts';

function RunWord({ run }: { run: RunView }) {
  const { text, shape } = verdictWord(run);
  return (
    <span class="run-verdict">
      <Shape of={shape} size={22} /> {text}
    </span>
  );
}

/** "74.6 of 118.6 m stay in 9 coils." */
function keptText({ keptMm, woundMm, coils, spools }: RunView): string {
  if (coils === 0) return '';
  const from = spools > 1 ? ` from ${counted(spools, 'spool')}` : '';
  return `${metres(keptMm, 1)} of ${metres(woundMm, 1)} m stay in ${counted(coils, 'coil')}${from}.`;
}

/** All runs, newest first, each as a short paragraph. */
export default function RunsPage() {
  const [runs, setRuns] = useState<readonly RunView[] | null>(null);
  const [problem, setProblem] = useState<ServiceProblem | null>(null);
  const [taken, setTaken] = useState(0);
  const version = refetchVersion.value;
  const running = live.value?.run?.id ?? null;
  const changed = live.value?.spoolBoundsRevision;
  useEffect(() => {
    call('GET /api/runs').then(
      (answer) => {
        setRuns(answer);
        setProblem(null);
      },
      (thrown) => setProblem(asProblem(thrown)),
    );
  }, [version, running, changed, taken]);
  return (
    <section>
      <header class="page-head">
        <h1>Runs</h1>
        <p>
          From heating up to shutting down, newest first. <a href="/compare">Compare runs</a> to see what a change in
          preparation did, or see <a href="/preparation">material and preparation</a> of all of them and{' '}
          <a href="/next">what to change next</a>.
        </p>
      </header>
      {problem && <ProblemNote problem={problem} />}
      {runs && <Examples runs={runs} changed={() => setTaken((n) => n + 1)} />}
      {runs?.length === 0 && <p class="quiet">There is no run yet. One starts when the line heats up.</p>}
      {/* Only once there is something in it: an empty one would move down below what comes above it. */}
      {runs && (
        <ol class="run-list" reversed>
          {runs.map((run) => (
            <li key={run.id} data-testid="run" data-run={run.id}>
              <a href={`/runs/${run.id}`} class="run-link">
                <span class="run-when">
                  {day(run.startedMs, run.timeZone)}
                  {run.example && <ExampleMark />}
                  <span class="fine">
                    Run {run.id}, {clock(run.startedMs, run.timeZone)} to{' '}
                    {run.endedMs === null ? 'now' : clock(run.endedMs, run.timeZone)}
                    {run.endedMs !== null && `, ${span(run.endedMs - run.startedMs)}`}
                  </span>
                </span>
                <RunWord run={run} />
                <span class="run-facts">
                  {`${run.verdict.reason} ${keptText(run)}`} {troubleText(run)}
                  {run.unreadableRows > 0 && ` ${unreadableText(run.unreadableRows)}.`}
                  {run.lot && ` Material: ${run.lot.name || run.lot.preparation}.`}
                  {run.note && <em> “{run.note}”</em>}
                </span>
              </a>
            </li>
          ))}
        </ol>
      )}
      {runs !== null && (
        <>
          <BinList restored={() => setTaken((n) => n + 1)} />
          <section class="import-section no-print" aria-labelledby="import-section">
            <h2 id="import-section">Import</h2>
            <Needs right="manage">
              <div class="imports">
                <LogImport taken={() => setTaken((n) => n + 1)} />
                <RunImport />
              </div>
            </Needs>
          </section>
        </>
      )}
    </section>
  );
}
