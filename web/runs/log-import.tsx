import { useEffect, useRef, useState } from 'preact/hooks';
import type { RecordingView } from '../../server/api/contract/recording.ts';
import { FileButton } from '../form/file-button.tsx';
import { count } from '../format/numbers.ts';
import { call } from '../service/call.ts';
import { asProblem, ServiceProblem } from '../service/request.ts';
import { sendFile } from '../service/send-file.ts';
import { ProblemNote } from '../shell/problem-note.tsx';
import { ProgressLine } from '../shell/progress-line.tsx';
import { LogForm } from './log-form.tsx';

const ASK_EVERY_MS = 700;

/** Imports a recorded log as runs. The progress is also shown to users who open the page later. */
export function LogImport({ taken, begun }: { taken: () => void; begun: () => void }) {
  const [log, setLog] = useState<RecordingView | null>(null);
  const [sent, setSent] = useState<number | null>(null);
  const [problem, setProblem] = useState<ServiceProblem | null>(null);
  const stop = useRef(new AbortController());
  const ask = async (act: () => Promise<RecordingView | null | undefined>) => {
    try {
      const answer = await act();
      setProblem(null);
      setLog(answer ?? null);
    } catch (thrown) {
      setProblem(asProblem(thrown));
    }
  };
  const look = () => ask(() => call('GET /api/recording'));
  useEffect(() => {
    void look();
  }, []);
  const underWay = log !== null;
  useEffect(() => {
    if (underWay) begun();
  }, [underWay]);
  const working = log?.phase === 'replaying' || log?.phase === 'importing';
  useEffect(() => {
    if (!working) return;
    const timer = setInterval(look, ASK_EVERY_MS);
    return () => clearInterval(timer);
  }, [working]);
  useEffect(() => {
    if (log?.runs.length) taken();
  }, [log?.runs.length]);

  const send = async (file: File) => {
    stop.current = new AbortController();
    setProblem(null);
    setSent(0);
    const about = new URLSearchParams({ name: file.name.slice(-120), changedMs: String(file.lastModified) });
    try {
      setLog(await sendFile(`/api/recording?${about}`, file, 'text/plain', setSent, stop.current.signal));
    } catch (thrown) {
      if (!stop.current.signal.aborted) setProblem(asProblem(thrown));
    } finally {
      setSent(null);
    }
  };
  const drop = () => ask(() => call('DELETE /api/recording'));
  const begin = (startMs: number, rateHz: number | null) =>
    ask(() => call('POST /api/recording/start', { body: { startMs, rateHz } }));

  return (
    <section
      class="import"
      aria-labelledby="log-import-title"
      data-testid="log-import"
      data-phase={log?.phase ?? 'none'}
    >
      <h2 id="log-import-title">A recorded log</h2>
      <p>
        Reading lines as plain text, up to 2 GB. They are judged as if they had just arrived over the cable, but no one
        is notified. The line is still being watched.
      </p>
      {sent !== null && (
        <ProgressLine
          share={sent < 1 ? sent : null}
          text={sent < 1 ? 'Uploading' : 'Examining'}
          stop={() => stop.current.abort()}
        />
      )}
      {sent === null && (log === null || log.phase === 'done' || log.phase === 'failed') && (
        <Outcome log={problem ? null : log} send={send} />
      )}
      {sent === null && log?.phase === 'ready' && <LogForm log={log} begin={begin} drop={drop} />}
      {log?.phase === 'replaying' && (
        <ProgressLine
          share={log.progress.share}
          text={`Judging ${log.name}: ${count(log.progress.readings)} readings`}
          stop={drop}
        />
      )}
      {log?.phase === 'importing' && <ProgressLine share={null} text="Storing it in the record" stop={drop} />}
      {problem && <ProblemNote problem={problem} />}
    </section>
  );
}

/** The result of the last import, and the button for the next. */
function Outcome({ log, send }: { log: RecordingView | null; send: (file: File) => void }) {
  return (
    <>
      {log?.phase === 'done' && (
        <p role="status" class="import-done">
          {log.name} became{' '}
          {log.runs.map((id, i) => (
            <span key={id}>
              {i > 0 && (i === log.runs.length - 1 ? ' and ' : ', ')}
              <a href={`/runs/${id}`}>run {id}</a>
            </span>
          ))}
          , {count(log.progress.readings)} readings.
        </p>
      )}
      {log?.problem && <ProblemNote problem={new ServiceProblem(0, log.problem.title, log.problem.detail)} />}
      <FileButton text="Import a recorded log" testId="log-file" chosen={send} />
    </>
  );
}
