import { useEffect, useState } from 'preact/hooks';
import type { SteadinessView } from '../../server/api/contract/judgement.ts';
import { ChartTable } from '../chart/chart-table.tsx';
import { PlainPlot, pathThrough } from '../chart/plain-plot.tsx';
import { roundTicks, tickDigits, twoTicksAtLeast } from '../chart/ticks.ts';
import { diameter, length, metres } from '../format/numbers.ts';
import { call } from '../service/call.ts';
import { asProblem, isAbort, type ServiceProblem } from '../service/request.ts';
import { ProblemNote } from '../shell/problem-note.tsx';
import { boundsOf, steadinessText } from './chart-text.ts';

/** Fetches the control chart of a spool, for which the service reads all its readings. */
export function SteadinessPart({ spoolId }: { spoolId: number }) {
  const [chart, setChart] = useState<SteadinessView | null | 'pending'>('pending');
  const [problem, setProblem] = useState<ServiceProblem | null>(null);
  useEffect(() => {
    const controller = new AbortController();
    call('GET /api/spools/:id/steadiness', { params: { id: spoolId }, signal: controller.signal }).then(
      setChart,
      (thrown) => {
        if (!isAbort(thrown)) setProblem(asProblem(thrown));
      },
    );
    return () => controller.abort();
  }, [spoolId]);
  if (problem) return <ProblemNote problem={problem} />;
  if (chart === 'pending') return <p class="quiet">Reading the strand …</p>;
  if (chart === null) return <p>Too little strand was measured to tell.</p>;
  return <Steadiness chart={chart} />;
}

/** The finding in a sentence, and the means along the strand with the levels that it names. */
function Steadiness({ chart }: { chart: SteadinessView }) {
  const { atMm, meanMm, sumMm } = chart;
  const text = steadinessText(chart);
  const [low, high] = boundsOf([meanMm]);
  const range: [number, number] = [atMm[0] ?? 0, atMm.at(-1) ?? 1];
  const xs = roundTicks(range[0] / 1000, range[1] / 1000, 6);
  const ys = twoTicksAtLeast(low, high, 3);
  const largest = Math.max(...sumMm.map(Math.abs));
  return (
    <figure class="plain-figure">
      <p data-testid="steadiness">
        <b>{text}</b>
      </p>
      <PlainPlot
        height={160}
        x={range}
        y={[low, high]}
        xTicks={xs.map((x) => [x * 1000, x.toFixed(tickDigits(xs))])}
        yTicks={ys.map((y) => [y, y.toFixed(tickDigits(ys))])}
        xText="metres from the inner end"
        yText="mm"
        label={`Mean diameter along the strand. ${text}`}
      >
        {(at) => (
          <>
            <path class="plot-line" d={pathThrough(atMm, meanMm, at)} />
            {levelsOf(chart, range).map(([from, to]) => (
              <line
                key={from[0]}
                class="plot-level"
                x1={at.x(from[0])}
                x2={at.x(to[0])}
                y1={at.y(from[1])}
                y2={at.y(to[1])}
              />
            ))}
          </>
        )}
      </PlainPlot>
      <figcaption class="fine">
        Each point is the mean of {length(chart.stepMm)} of strand; dashed: the level. Deviations are summed from the
        mean of this spool, {diameter(chart.targetMm)} mm, and not from the nominal diameter. The sums (CUSUM) reached{' '}
        {diameter(largest)} mm; by chance, one steady spool in 100 exceeds {diameter(chart.decisionMm)} mm. Beyond that,
        a change is named only if slow wander does not explain it nearly as well.
      </figcaption>
      <ChartTable
        caption="The points of the control chart"
        columns={['Metre', 'Mean, mm', 'CUSUM, mm']}
        rows={() => atMm.map((mm, k) => [metres(mm, 1), diameter(meanMm[k] ?? null), diameter(sumMm[k] ?? null)])}
      />
    </figure>
  );
}

type Place = readonly [mm: number, level: number];

function levelsOf({ finding, change, targetMm }: SteadinessView, [first, last]: [number, number]): [Place, Place][] {
  if (finding === 'unknown') return [];
  if (change === null)
    return [
      [
        [first, targetMm],
        [last, targetMm],
      ],
    ];
  const { atMm, beforeMm, afterMm } = change;
  if (finding === 'creep')
    return [
      [
        [first, beforeMm],
        [last, afterMm],
      ],
    ];
  return [
    [
      [first, beforeMm],
      [atMm, beforeMm],
    ],
    [
      [atMm, afterMm],
      [last, afterMm],
    ],
  ];
}
