import type { RunView } from '../../server/api/contract/runs-and-spools.ts';
import { EXPORT_TEXT } from '../format/names.ts';
import { DownloadLink } from '../shell/download-link.tsx';

/** The readings of a run for other programs, and the run as a whole for another Strandward. */
export function RunExports({ run }: { run: RunView }) {
  return (
    <section class="run-exports no-print" aria-labelledby="run-exports">
      <h2 id="run-exports">Take it with you</h2>
      <ul>
        {EXPORT_TEXT.map(([format, text, tells]) => (
          <li key={format}>
            <DownloadLink
              path={`/api/runs/${run.id}/export`}
              query={{ format }}
              text={text}
              testId={`export-run-${format}`}
            />{' '}
            <span class="quiet">all readings, {tells}</span>
          </li>
        ))}
        {run.endedMs !== null && (
          <li>
            <DownloadLink path={`/api/runs/${run.id}/archive`} text="Export the whole run" testId="export-run" />{' '}
            <span class="quiet">with spools, sections, alarms and notes, for another Strandward</span>
          </li>
        )}
      </ul>
    </section>
  );
}
