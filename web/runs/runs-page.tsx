import { useComputed } from '@preact/signals';
import { useState } from 'preact/hooks';
import { RecordList } from '../list/record-list.tsx';
import { useRows } from '../list/use-rows.ts';
import { call } from '../service/call.ts';
import { live, refetchVersion } from '../service/live-store.ts';
import { may } from '../service/session.ts';
import { BinList } from '../shell/bin-list.tsx';
import { ProblemNote } from '../shell/problem-note.tsx';
import { Examples } from './examples.tsx';
import { RUNS } from './list-of-runs.ts';
import { LogImport } from './log-import.tsx';
import { RunImport } from './run-import.tsx';

/** All runs, to search and to sort, with those to import and those in the bin. */
export default function RunsPage() {
  const [taken, setTaken] = useState(0);
  const [importing, setImporting] = useState(false);
  const version = refetchVersion.value;
  // Only these: the state itself changes four times a second.
  const running = useComputed(() => live.value?.run?.id ?? null).value;
  const changed = useComputed(() => live.value?.spoolBoundsRevision).value;
  const {
    rows: runs,
    complete,
    problem,
  } = useRows((query) => call('GET /api/runs', { query }), [version, running, changed, taken]);
  const again = () => setTaken((n) => n + 1);
  return (
    <section>
      <header class="page-head">
        <h1>Runs</h1>
        <p>
          A run lasts from heating up to shutting down.
          <br />
          <a href="/compare">Compare runs</a> · <a href="/spools">All spools</a> · <a href="/trends">Trends</a> ·{' '}
          <a href="/preparation">Material and preparation</a> · <a href="/next">What to change next</a>
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
