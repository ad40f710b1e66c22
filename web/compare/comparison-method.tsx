import type { ComparisonView } from '../../server/api/contract/comparison.ts';
import { metres } from '../format/numbers.ts';

/** How the comparison is calculated. */
export function ComparisonMethod({ view }: { view: ComparisonView }) {
  const several = view.groups.some(({ runs }) => runs.length > 1);
  const isOfLines = view.runs.some(({ address }) => address !== '');
  return (
    <details class="more">
      <summary>How this is calculated</summary>
      <ul class="compare-how">
        <li>
          Successive readings are alike, so millions of them are not millions of measurements. Each run is divided into
          long stretches ({stretchText(view)}), and the intervals follow from how these differ: batch means, with how
          far the diameter wanders from one stretch to the next taken into account. For spreads and shares, one stretch
          at a time is left out (jackknife).
        </li>
        <li>
          Blobs, thin spots and alarms are counts: they have exact Poisson intervals (Garwood 1936), and two runs are
          compared by the exact conditional test. Where they occur in clusters, each cluster counts as one.
        </li>
        {several ? (
          <li>
            Where a group has two runs or more, the run is the unit. The means of groups are compared by Welch’s test,
            and a single run with several by that of Crawford and Howell (1998). The intervals of “all” are for the mean
            of such runs.
          </li>
        ) : (
          <li>
            With one run per group, only the variation within each run is known, not how much runs of one kind differ.
          </li>
        )}
        {isOfLines && (
          <li>
            Runs of one line are alike, so the effect of each line is taken out: groups with a line in common are
            compared within their lines, by least squares with an effect of each group and each line, and the means
            shown are those for all these lines. Groups without a line in common are compared by the means of their
            lines, or by their runs where each has a single line. Then the line may be the cause.
          </li>
        )}
        <li>
          “More than chance”: a difference as large as this would occur by chance at most once in twenty times,
          corrected for all comparisons on this page (Holm 1979). All intervals hold the true value in 95 of 100 cases.
        </li>
        <li>
          Short-term spread is how much single diameters 250 mm apart differ. Kept strand and coils come from the cut
          lists of the spools as they were wound. The unsteadiest zone is the one with the largest standard deviation
          about its set-point during winding.
        </li>
      </ul>
    </details>
  );
}

function stretchText({ runs }: ComparisonView): string {
  const known = runs.flatMap(({ name, stretches }) => (stretches === null ? [] : [{ name, ...stretches }]));
  if (known.length === 0) return 'none of these runs is long enough for ten stretches of a metre';
  return known
    .slice(0, 4)
    .map(({ name, count, lengthMm }) => `${name}: ${count} of ${metres(lengthMm, 1)} m`)
    .join(', ');
}
