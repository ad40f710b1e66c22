import { useComputed } from '@preact/signals';
import { useEffect, useState } from 'preact/hooks';
import type { RunView } from '../../server/api/contract/runs-and-spools.ts';
import { inSlices } from '../list/in-slices.ts';
import { RecordList } from '../list/record-list.tsx';
import { call } from '../service/call.ts';
import { live, refetchVersion } from '../service/live-store.ts';
import { asProblem, type ServiceProblem } from '../service/request.ts';
import { may } from '../service/session.ts';
import { BinList } from '../shell/bin-list.tsx';
import { ProblemNote } from '../shell/problem-note.tsx';
import { Examples } from './examples.tsx';
import { RUNS } from './list-of-runs.ts';
import { LogImport } from './log-import.tsx';
import { RunImport } from './run-import.tsx';

/** All runs, to search and to sort, with those to import and those in the bin. */
export default function RunsPage() {
  const [runs, setRuns] = useState<readonly RunView[] | null>(null);
  const [complete, setComplete] = useState(false);
  const [problem, setProblem] = useState<ServiceProblem | null>(null);
  const [taken, setTaken] = useState(0);
  const [importing, setImporting] = useState(false);
  const version = refetchVersion.value;
  // Only these: the state itself changes four times a second.
  const running = useComputed(() => live.value?.run?.id ?? null).value;
  const changed = useComputed(() => live.value?.spoolBoundsRevision).value;
  useEffect(() => {
    const show = (rows: readonly RunView[], isComplete: boolean) => {
      setRuns(rows);
      setComplete(isComplete);
      setProblem(null);
    };
    const load =
      runs === null
        ? inSlices((newest) => call('GET /api/runs', { query: { newest } }), show)
        : call('GET /api/runs').then((rows) => show(rows, true));
    load.catch((thrown) => setProblem(asProblem(thrown)));
  }, [version, running, changed, taken]);
  const again = () => setTaken((n) => n + 1);
  return (
    <section>
      <header class="page-head">
        <h1>Runs</h1>
        <p>
          From heating up to shutting down. See <a href="/spools">all spools</a>, <a href="/trends">trends</a>,{' '}
          <a href="/preparation">material and preparation</a>, and <a href="/next">what to change next</a>, or{' '}
          <a href="/compare">compare runs</a>.
        </p>
      </header>
      {problem && <ProblemNote problem={problem} />}
      {runs && (
        <>
          {may('manage') && (
            <details class="import-section no-print" open={importing}>
              <summary>Import a run or a log…</summary>
              <div class="imports">
                <LogImport taken={again} begun={() => setImporting(true)} />
                <RunImport />
              </div>
            </details>
          )}
          <Examples runs={runs} changed={again} />
          {runs.length === 0 ? (
            <p class="quiet">There is no run yet. One starts when the line heats up.</p>
          ) : (
            <RecordList kind={RUNS} rows={runs} complete={complete} />
          )}
          <BinList restored={again} />
        </>
      )}
    </section>
  );
}
