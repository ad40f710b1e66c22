import type { SpoolJudgement, StatisticsView } from '../../server/api/contract/judgement.ts';
import { diameter, length, metres, percent } from '../format/numbers.ts';
import { Part } from '../shell/part.tsx';
import { ScrollTable } from '../shell/scroll-table.tsx';
import { Term } from '../terms/term.tsx';
import { Histogram } from './histogram.tsx';

const INDEX_TEXT: readonly (readonly [keyof NonNullable<StatisticsView['capability']>, string, string])[] = [
  ['cp', 'Cp', 'short-term spread against the tolerance'],
  ['cpk', 'Cpk', 'the same, allowing for where the mean lies'],
  ['pp', 'Pp', 'whole spread against the tolerance'],
  ['ppk', 'Ppk', 'the same, allowing for where the mean lies'],
  ['cpm', 'Cpm', 'spread about the target'],
];

/** Mean, spread, tolerance, histogram and capability. */
export function NumbersPart({ statistics, judgement }: { statistics: StatisticsView; judgement: SpoolJudgement }) {
  const { tolerance, quantilesMm: q, capability, ovality, individuals } = statistics;
  const { limits } = judgement;
  return (
    <Part
      id="numbers"
      title="The numbers"
      lead={`Along the length, not along time: ${metres(statistics.measuredMm, 1)} m was measured.`}
    >
      <dl class="facts">
        <div>
          <dt>Mean diameter</dt>
          <dd>{diameter(statistics.meanMm)}&nbsp;mm</dd>
        </div>
        <div>
          <dt>
            <Term of="sigma">Standard deviation</Term>
          </dt>
          <dd>{diameter(statistics.sdMm)}&nbsp;mm</dd>
        </div>
        <div>
          <dt>
            <Term of="tolerance">{`Within ±\u00a0${limits.toleranceMm}\u00a0mm`}</Term>
          </dt>
          <dd>{percent(tolerance.within)}</dd>
        </div>
        <div>
          <dt>Thinnest to thickest</dt>
          <dd>
            {diameter(statistics.minMm)} to {diameter(statistics.maxMm)}&nbsp;mm
          </dd>
        </div>
        {ovality && (
          <div>
            <dt>
              <Term of="outOfRound">Out of round, mean and largest</Term>
            </dt>
            <dd>
              {diameter(ovality.meanMm)} and {diameter(ovality.largestMm)}&nbsp;mm
            </dd>
          </div>
        )}
      </dl>
      <Histogram histogram={statistics.histogram} limits={limits} measuredMm={statistics.measuredMm} />
      <p class="fine">
        Half of the strand is from {diameter(q.p25)} to {diameter(q.p75)} mm, 90 % from {diameter(q.p5)} to{' '}
        {diameter(q.p95)} mm, 98 % from {diameter(q.p1)} to {diameter(q.p99)} mm. {percent(tolerance.below)} is thinner
        and {percent(tolerance.above)} thicker than the tolerance.
      </p>
      {capability && (
        <details class="more">
          <summary>How capable the line was: Cp, Cpk, Pp, Ppk</summary>
          {statistics.warnings.map((warning) => (
            <p class="warning-text" key={warning}>
              {warning}
            </p>
          ))}
          <ScrollTable label="Capability">
            <table>
              <caption>
                Against nominal ± {limits.toleranceMm} mm; from {individuals.count} single diameters{' '}
                {length(individuals.spacingMm)} apart, worth {individuals.effectiveForMean.toFixed(0)} independent ones
              </caption>
              <thead>
                <tr>
                  <th scope="col" aria-label="Index">
                    <Term of="capability">Index</Term>
                  </th>
                  <th scope="col">Value</th>
                  <th scope="col">95&nbsp;% interval</th>
                  <th scope="col">Meaning</th>
                </tr>
              </thead>
              <tbody>
                {INDEX_TEXT.map(([key, name, meaning]) => {
                  const index = capability[key];
                  return (
                    <tr key={key}>
                      <th scope="row">{name}</th>
                      <td>{index.value === null ? '–' : index.value.toFixed(2)}</td>
                      <td>
                        {index.lower === null || index.upper === null
                          ? '–'
                          : `${index.lower.toFixed(2)} to ${index.upper.toFixed(2)}`}
                      </td>
                      <td class="quiet">{meaning}</td>
                    </tr>
                  );
                })}
              </tbody>
            </table>
          </ScrollTable>
        </details>
      )}
    </Part>
  );
}
