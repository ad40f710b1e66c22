import type { ComparisonView } from '../../server/api/contract/comparison.ts';
import { capital } from '../../server/problem/sentence.ts';
import { lotText } from '../format/names.ts';
import { counted, metres } from '../format/numbers.ts';
import { shortDay, span } from '../format/times.ts';
import { ExampleMark } from '../shell/example-mark.tsx';
import { go } from '../shell/router.ts';
import { ScrollTable } from '../shell/scroll-table.tsx';
import { GROUPS_MAX, groupMark, pathOf, regrouped } from './compare-groups.ts';

/** The compared runs, the strand measured in each, and their groups. */
export function RunTable({ view }: { view: ComparisonView }) {
  const groups = view.groups.map(({ runs }) => runs);
  const choices = Math.min(GROUPS_MAX, groups.length + 1);
  return (
    <ScrollTable label="The runs">
      <table class="compare-runs">
        <thead>
          <tr>
            <th scope="col">Run</th>
            <th scope="col">Group</th>
            <th scope="col">Material</th>
            <th scope="col">Wound</th>
            <th scope="col">Kept, longest coil</th>
            <th scope="col">Blobs and thin spots</th>
            <th scope="col">Alarms</th>
          </tr>
        </thead>
        <tbody>
          {view.runs.map((run) => (
            <tr key={run.ref}>
              <th scope="row">
                <a href={`${run.address}/runs/${run.runId}`}>{capital(run.name)}</a>
                {run.example && <ExampleMark />}
                <span class="fine">{shortDay(run.startedMs, run.timeZone)}</span>
              </th>
              <td>
                <span class="only-print">{groupMark(run.group)}</span>
                <select
                  class="no-print"
                  aria-label={`Group of ${run.name}`}
                  value={String(run.group)}
                  onChange={(event) => {
                    const moved = regrouped(groups, run.ref, Number(event.currentTarget.value));
                    // One group alone has nothing to be compared with.
                    if (moved.length > 1) go(pathOf(moved));
                    else event.currentTarget.value = String(run.group);
                  }}
                >
                  {Array.from({ length: choices }, (_, i) => (
                    <option key={groupMark(i)} value={String(i)}>
                      {groupMark(i)}
                    </option>
                  ))}
                </select>
              </td>
              <td class="compare-lot">{run.lot ? lotText(run.lot) : <span class="quiet">not entered</span>}</td>
              <td>
                {metres(run.woundMm, 1)}&nbsp;m
                <span class="fine">in {span(run.hours * 3_600_000)}</span>
              </td>
              <td>
                {metres(run.keptMm, 1)}&nbsp;m in {counted(run.coils, 'coil')}
                <span class="fine">longest {metres(run.longestCoilMm, 1)}&nbsp;m</span>
              </td>
              <td>
                {run.blobsAndNecks}
                <span class="fine">{clumpText(run.clumping)}</span>
              </td>
              <td>{run.alarms}</td>
            </tr>
          ))}
        </tbody>
      </table>
    </ScrollTable>
  );
}

function clumpText(clumping: number | null): string {
  if (clumping === null) return 'too few to show clusters';
  return clumping > 2 ? `in clumps: varies ${clumping.toFixed(1)} times as much as single ones` : 'scattered';
}
