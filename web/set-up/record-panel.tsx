import { useEffect, useState } from 'preact/hooks';
import type { RecordHealth } from '../../server/api/contract/record.ts';
import { clock, shortDay } from '../format/times.ts';
import { call } from '../service/call.ts';
import { asProblem, type ServiceProblem } from '../service/request.ts';
import { showNotice } from '../shell/notice.tsx';
import { ProblemNote } from '../shell/problem-note.tsx';

/** Maintenance of the record: its size, its backups, and whether it is sound. */
export function RecordPanel() {
  const [record, setRecord] = useState<RecordHealth | null>(null);
  const [busy, setBusy] = useState<'backup' | 'check' | null>(null);
  const [problem, setProblem] = useState<ServiceProblem | null>(null);
  useEffect(() => {
    call('GET /api/record').then(setRecord, (thrown) => setProblem(asProblem(thrown)));
  }, []);
  const work = async (what: 'backup' | 'check', done: (now: RecordHealth) => string) => {
    setBusy(what);
    try {
      const now = await call(`POST /api/record/${what}`);
      setRecord(now);
      setProblem(null);
      showNotice({ text: done(now) });
    } catch (thrown) {
      setProblem(asProblem(thrown));
    } finally {
      setBusy(null);
    }
  };
  const last = record?.backups[0];
  const faults = record?.check?.faults ?? [];
  return (
    <section class="part" aria-label="Backup" data-testid="record-panel">
      <div class="part-intro">
        <h2>Backup</h2>
        <p>
          A card or disk can fail at any time. Only a backup on another disk helps then; restore it with
          <code> strandward restore FILE</code>.
        </p>
      </div>
      <div class="record-panel">
        {record && (
          <dl class="facts-small">
            <div>
              <dt>Size of the record</dt>
              <dd>{gigabytes(record.recordBytes)}</dd>
            </div>
            <div>
              <dt>Free on its disk</dt>
              <dd>{gigabytes(record.freeBytes)}</dd>
            </div>
            <div>
              <dt>Last backup</dt>
              <dd>
                {last ? `${dayAndClock(last.timeMs)}, ${gigabytes(last.bytes)}` : 'none'}
                {record.backups.length > 1 && `, and ${record.backups.length - 1} older`}
              </dd>
            </div>
            <div>
              <dt>Backup folder</dt>
              <dd class="path">{record.backupFolder}</dd>
            </div>
          </dl>
        )}
        {record && !record.scheduled && (
          <p class="quiet">
            No automatic backups. Start with <code>--backup FOLDER</code>, on another disk, to schedule them.
          </p>
        )}
        {record?.backupProblem && <p class="fault">{record.backupProblem}</p>}
        {problem && <ProblemNote problem={problem} />}
        <p class="actions">
          <button
            type="button"
            disabled={busy !== null}
            onClick={() =>
              work('backup', (now) => `Backup made and checked: ${gigabytes(now.backups[0]?.bytes ?? 0)}.`)
            }
          >
            {busy === 'backup' ? 'Copying and checking …' : 'Make a backup'}
          </button>
          <button
            type="button"
            disabled={busy !== null}
            onClick={() =>
              work('check', (now) =>
                (now.check?.faults.length ?? 0) === 0 ? 'No fault was found in the record.' : 'The record is damaged.',
              )
            }
          >
            {busy === 'check' ? 'Reading all of it …' : 'Check the record'}
          </button>
        </p>
        {record?.check && (
          <p role="status">
            {faults.length === 0
              ? `No fault found, ${dayAndClock(record.check.timeMs)}.`
              : `${faults.length} ${faults.length === 1 ? 'fault' : 'faults'} found ${dayAndClock(record.check.timeMs)}:`}
          </p>
        )}
        <Faults of={faults} />
        {record?.rollingCheck && <DailyCheck check={record.rollingCheck} />}
      </div>
    </section>
  );
}

function Faults({ of: faults }: { of: readonly string[] }) {
  if (faults.length === 0) return null;
  return (
    <ul class="fault">
      {faults.map((fault) => (
        <li key={fault}>{fault}</li>
      ))}
    </ul>
  );
}

/** Some of the record is read each day, everything within a month. */
function DailyCheck({ check }: { check: NonNullable<RecordHealth['rollingCheck']> }) {
  const { read, total, faults, completeMs } = check;
  const share = total === 0 ? 0 : Math.min(100, Math.floor((100 * read) / total));
  return (
    <>
      <p class="fine" data-testid="daily-check">
        A part of the record is checked each day, all of it within a month.{' '}
        {read > 0 && `${share} % of this round ${faults.length === 0 ? 'is read, without a fault. ' : 'is read. '}`}
        {completeMs !== null && `All of it was last read by ${dayAndClock(completeMs)}.`}
        {faults.length > 0 && ` ${faults.length} ${faults.length === 1 ? 'fault' : 'faults'} found:`}
      </p>
      <Faults of={faults} />
    </>
  );
}

function dayAndClock(ms: number): string {
  return `${shortDay(ms)}, ${clock(ms)}`;
}

function gigabytes(bytes: number): string {
  if (bytes >= 1e9) return `${(bytes / 1e9).toFixed(bytes < 1e10 ? 2 : 0)} GB`;
  return `${(bytes / 1e6).toFixed(bytes < 1e7 ? 1 : 0)} MB`;
}
