import { useComputed } from '@preact/signals';
import { useEffect, useState } from 'preact/hooks';
import type { RunDetail, RunView } from '../../server/api/contract/runs-and-spools.ts';
import { EXPORT_TEXT } from '../format/names.ts';
import { LotLine } from '../lot/lot-line.tsx';
import { call } from '../service/call.ts';
import { live, refetchVersion } from '../service/live-store.ts';
import { asProblem, isAbort, type ServiceProblem } from '../service/request.ts';
import { DeletePart } from '../shell/delete-part.tsx';
import { DownloadLink } from '../shell/download-link.tsx';
import { Fold } from '../shell/fold.tsx';
import { Later } from '../shell/later.tsx';
import { Lazily, lazyPart } from '../shell/lazily.tsx';
import { NoteField } from '../shell/note-field.tsx';
import { ProblemNote } from '../shell/problem-note.tsx';
import { UnreadableNote } from '../shell/unreadable-note.tsx';
import { AlarmRecord, linesOfAlarms } from './alarm-record.tsx';
import { CutList } from './cut-list.tsx';
import { DatePart } from './date-part.tsx';
import { RunEvents } from './run-events.tsx';
import { RunHead } from './run-head.tsx';
import { RunTitle } from './run-title.tsx';
import { RunTraces } from './run-traces.tsx';
import { SpoolVerdicts } from './spool-verdicts.tsx';
import { WorstStretches } from './worst-stretches.tsx';

const relatedPart = lazyPart(() => import('./related-part.tsx'));
const alarmFigures = lazyPart(() => import('./alarm-figures.tsx'));

/** The report of a run: verdict, cut list, worst stretches, heat, and alarms with their answers. Prints on two sheets. */
export default function RunPage({ runId }: { runId: number }) {
  const [detail, setDetail] = useState<RunDetail | null>(null);
  const [problem, setProblem] = useState<ServiceProblem | null>(null);
  const version = refetchVersion.value;
  // Only the answer: the state itself changes four times a second.
  const going = useComputed(() => live.value?.run?.id === runId).value;
  const [changes, setChanges] = useState(0);
  useEffect(() => {
    const controller = new AbortController();
    const load = () =>
      call('GET /api/runs/:id', { params: { id: runId }, signal: controller.signal }).then(
        (answer) => {
          setDetail(answer);
          setProblem(null);
        },
        (thrown) => {
          if (!isAbort(thrown)) setProblem(asProblem(thrown));
        },
      );
    void load();
    const timer = going ? setInterval(load, 10_000) : undefined;
    return () => {
      controller.abort();
      clearInterval(timer);
    };
  }, [runId, version, going, changes]);
  if (!detail) return problem ? <ProblemNote problem={problem} /> : <p class="quiet">Fetching the run …</p>;

  const { run, spools, sections, extent, limits } = detail;
  return (
    <article class="run-report">
      <RunHead run={run} spools={spools} />
      {problem && <ProblemNote problem={problem} />}
      <UnreadableNote whose="its" rows={run.unreadableRows} />
      <DatePart detail={detail} changed={() => setChanges((n) => n + 1)} />
      <RunEvents detail={detail} />
      <CutList
        spools={spools}
        sections={sections}
        dismissed={detail.dismissed}
        otherLines={linesOfAlarms(detail)}
        changed={() => setChanges((n) => n + 1)}
      />
      <Later>
        {() => <WorstStretches runId={run.id} spools={spools} sections={sections} limits={limits} extent={extent} />}
      </Later>
      {/* All of it at once: what comes later than its neighbours below would move them. */}
      <Later>
        {() => (
          <>
            {extent && (
              <section aria-labelledby="whole-title">
                <h2 id="whole-title">The whole run</h2>
                {/* A run whose date was corrected is at other times. */}
                <RunTraces key={run.startedMs} detail={{ ...detail, extent }} zone={null} title="whole run" />
              </section>
            )}
            <SpoolVerdicts spools={spools} />
            <LotLine runId={run.id} lot={run.lot} changed={() => setChanges((n) => n + 1)} />
            <NoteField
              key={run.id}
              id="run-note"
              title="Your note"
              placeholder="What went well, what to try next time"
              save={(note) => call('PUT /api/runs/:id/note', { params: { id: runId }, body: { note } })}
              note={run.note}
              maxLength={2000}
            />
            <section class="folds" aria-label="Name, alarms and log">
              <RunTitle key={`${run.id} ${run.title}`} run={run} changed={() => setChanges((n) => n + 1)} />
              {run.woundMm > 0 && (
                <Fold offPaper title="Readings that moved with the strand" testId="related">
                  <Lazily part={relatedPart} with={{ run }} />
                </Fold>
              )}
              <Fold offPaper title="Alarm load">
                <Lazily part={alarmFigures} with={{ run, version: detail.alarms.length }} />
              </Fold>
              <AlarmRecord detail={detail} />
            </section>
            <p class="fine run-source">
              {!run.example && `The line was read from ${run.sourceTitle}. `}
              <button type="button" class="plain no-print" onClick={() => print()}>
                Print this page
              </button>
            </p>
            {extent && <RunExports run={run} />}
            {run.endedMs !== null && (
              <DeletePart
                what={`run ${run.id}`}
                effect="All its spools and readings go with it."
                list="/runs"
                remove={() => call('DELETE /api/runs/:id', { params: { id: run.id } })}
                restore={() => call('POST /api/runs/:id/restore', { params: { id: run.id } })}
              />
            )}
          </>
        )}
      </Later>
    </article>
  );
}

/** Exports of the readings for other programs, and of the whole run for another installation. */
function RunExports({ run }: { run: RunView }) {
  return (
    <section class="run-exports no-print" aria-labelledby="run-exports">
      <h2 id="run-exports">Download</h2>
      <ul>
        {EXPORT_TEXT.map(([format, text, purpose]) => (
          <li key={format}>
            <DownloadLink
              path={`/api/runs/${run.id}/export`}
              query={{ format }}
              text={text}
              note={`all readings, ${purpose}`}
              testId={`export-run-${format}`}
            />
          </li>
        ))}
        {run.endedMs !== null && (
          <li>
            <DownloadLink
              path={`/api/runs/${run.id}/archive`}
              text="Export the whole run"
              note="with spools, marked stretches, alarms and notes, for another Strandward"
              testId="export-run"
            />
          </li>
        )}
      </ul>
    </section>
  );
}
