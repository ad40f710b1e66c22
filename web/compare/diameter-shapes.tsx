import type { ComparisonView } from '../../server/api/contract/comparison.ts';
import { capital } from '../../server/problem/sentence.ts';
import { ChartTable } from '../chart/chart-table.tsx';
import { PlainPlot } from '../chart/plain-plot.tsx';
import { roundTicks, tickDigits } from '../chart/ticks.ts';
import { percent } from '../format/numbers.ts';
import { edgeDigits } from '../judgement/histogram.tsx';
import { groupMark } from './compare-groups.ts';

/** How much strand has which diameter, run under run on one axis. */
export function DiameterShapes({ view }: { view: ComparisonView }) {
  const { limits } = view;
  const runs = view.runs.flatMap((run) => (run.histogram === null ? [] : [{ ...run, histogram: run.histogram }]));
  if (limits === null || runs.length === 0) return null;
  const most = Math.max(0.01, ...runs.flatMap(({ histogram }) => histogram.shares));
  const edges = runs[0]!.histogram.edgesMm;
  const [from, to] = [edges[0]!, edges.at(-1)!];
  const xs = roundTicks(from, to, 7);
  const ys = roundTicks(0, most * 100, 2).filter((y) => y > 0);
  const [low, high] = [limits.nominalMm - limits.toleranceMm, limits.nominalMm + limits.toleranceMm];
  return (
    <figure class="plain-figure compare-shapes">
      {runs.map(({ ref, name, group, histogram }) => (
        <div key={ref} class="compare-shape">
          <h3>
            {capital(name)}
            {view.groups[group]!.runs.length > 1 && `, group ${groupMark(group)}`}
          </h3>
          <PlainPlot
            height={118}
            x={[from, to]}
            y={[0, most * 1.04]}
            xTicks={xs.map((x) => [x, x.toFixed(tickDigits(xs))])}
            yTicks={ys.map((y) => [y / 100, y.toFixed(tickDigits(ys))])}
            xText="diameter, mm"
            yText="% of the strand"
            label={`${capital(name)}: share of the strand by diameter; the tolerance band is from ${low.toFixed(3)} to ${high.toFixed(3)} mm. The numbers are in the table below.`}
          >
            {(at) => (
              <>
                <rect
                  class="plot-band"
                  x={at.x(low)}
                  width={Math.max(0, at.x(high) - at.x(low))}
                  y={at.top}
                  height={at.bottom - at.top}
                />
                <line class="plot-edge" x1={at.x(low)} x2={at.x(low)} y1={at.top} y2={at.bottom} />
                <line class="plot-edge" x1={at.x(high)} x2={at.x(high)} y1={at.top} y2={at.bottom} />
                {histogram.shares.map((share, i) => {
                  const [left, right] = [at.x(histogram.edgesMm[i]!), at.x(histogram.edgesMm[i + 1]!)];
                  const middle = (histogram.edgesMm[i]! + histogram.edgesMm[i + 1]!) / 2;
                  const height = share <= 0 ? 0 : Math.max(1.5, at.bottom - at.y(share));
                  return (
                    <rect
                      key={histogram.edgesMm[i]}
                      class={middle >= low && middle <= high ? 'plot-bar' : 'plot-bar outside'}
                      x={left + 0.5}
                      width={Math.max(0.5, right - left - 1)}
                      y={at.bottom - height}
                      height={height}
                    />
                  );
                })}
              </>
            )}
          </PlainPlot>
        </div>
      ))}
      <figcaption class="fine">
        Within tolerance: filled; outside: outlined.{' '}
        {runs
          .filter(({ histogram }) => histogram.outsideShare > 0)
          .map(({ name, histogram }) => `Of ${name} ${percent(histogram.outsideShare)} is beyond the chart.`)
          .join(' ')}
      </figcaption>
      <ChartTable
        caption="Share of the strand by diameter"
        columns={['Diameter, mm', ...runs.map(({ name }) => capital(name))]}
        rows={() =>
          edges
            .slice(0, -1)
            .map((edge, i) => ({ edge, i }))
            .filter(({ i }) => runs.some(({ histogram }) => histogram.shares[i]! > 0))
            .map(({ edge, i }) => [
              `${edge.toFixed(edgeDigits(edges))} to ${edges[i + 1]!.toFixed(edgeDigits(edges))}`,
              ...runs.map(({ histogram }) => percent(histogram.shares[i]!)),
            ])
        }
      />
    </figure>
  );
}
