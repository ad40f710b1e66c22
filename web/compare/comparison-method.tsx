import type { ComparisonView } from '../../server/api/contract/comparison.ts';
import { metres } from '../format/numbers.ts';

/** How the comparison is calculated. */
export function ComparisonMethod({ view }: { view: ComparisonView }) {
  const several = view.groups.some(({ runIds }) => runIds.length > 1);
  return (
    <details class="more">
      <summary>How this was reckoned</summary>
      <ul class="compare-how">
        <li>
          Readings follow each other, so millions of them are not millions of measurements. Each run is cut into long
          stretches ({stretchText(view)}), and how these differ gives the intervals: batch means, with how far the
          diameter wanders from one to the next taken into account; for spreads and shares one stretch at a time is left
          out (jackknife).
        </li>
        <li>
          Blobs, thin places and calls by alarms are counted: exact Poisson intervals (Garwood 1936), and two runs by
          the exact conditional test. Where they come in clumps, so many of them count as one.
        </li>
        {several ? (
          <li>
            Where a side has two runs or more the run is the unit: the means of the groups by Welch’s test, a lone run
            beside several by that of Crawford and Howell (1998). Intervals of “all” hold what such runs give on
            average.
          </li>
        ) : (
          <li>With one run each way only the wander within each run is known, not how runs of one kind differ.</li>
        )}
        <li>
          “More than chance”: such a difference, or a larger one, would come by chance once in twenty times at most, put
          right for everything that was asked at once (Holm 1979). All intervals hold the true value in 95 of 100 cases.
        </li>
        <li>
          Short-term spread is what single diameters 250 mm apart differ by. Kept strand and coils are those of the cut
          plan of the spools as they were wound. The unsteadiest zone is told by its standard deviation about its
          set-point while strand was wound.
        </li>
      </ul>
    </details>
  );
}

function stretchText({ runs }: ComparisonView): string {
  const known = runs.flatMap(({ runId, stretches }) => (stretches === null ? [] : [{ runId, ...stretches }]));
  if (known.length === 0) return 'none of these runs is long enough for ten of a metre';
  return known
    .slice(0, 4)
    .map(({ runId, count, lengthMm }) => `run ${runId}: ${count} of ${metres(lengthMm, 1)} m`)
    .join(', ');
}
