import { useEffect, useState } from 'preact/hooks';
import type { BinnedView } from '../../server/api/contract/bin.ts';
import { counted } from '../format/numbers.ts';
import { day } from '../format/times.ts';
import { call } from '../service/call.ts';
import { asProblem, type ServiceProblem } from '../service/request.ts';
import { may } from '../service/session.ts';
import { ProblemNote } from './problem-note.tsx';

/** Deleted runs and spools, each with a button that restores it. */
export function BinList({ restored }: { restored: () => void }) {
  const [entries, setEntries] = useState<readonly BinnedView[]>([]);
  const [problem, setProblem] = useState<ServiceProblem | null>(null);
  const load = () => call('GET /api/bin').then(setEntries, (thrown) => setProblem(asProblem(thrown)));
  useEffect(() => void load(), []);
  const restore = async ({ kind, id }: BinnedView) => {
    try {
      const params = { id };
      if (kind === 'run') await call('POST /api/runs/:id/restore', { params });
      else await call('POST /api/spools/:id/restore', { params });
      setProblem(null);
      restored();
    } catch (thrown) {
      setProblem(asProblem(thrown));
    }
    await load();
  };
  if (entries.length === 0 && !problem) return null;
  return (
    <details class="no-print" data-testid="bin">
      <summary>Bin: {counted(entries.length, 'entry', 'entries')}</summary>
      {problem && <ProblemNote problem={problem} />}
      <ul>
        {entries.map((entry) => (
          <li key={`${entry.kind}${entry.id}`}>
            {entry.ordinal === null ? `Run ${entry.runId}` : `Spool ${entry.ordinal} of run ${entry.runId}`} of{' '}
            {day(entry.startedMs, entry.timeZone)}{' '}
            <span class="fine">
              Deleted by {entry.deletedBy}; kept at least until {day(entry.removedMs, entry.timeZone)}.
            </span>{' '}
            {may('manage') && (
              <button type="button" class="plain" onClick={() => restore(entry)}>
                Restore
              </button>
            )}
          </li>
        ))}
      </ul>
    </details>
  );
}
