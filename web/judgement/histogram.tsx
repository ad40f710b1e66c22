import type { SpoolJudgement, StatisticsView } from '../../server/api/contract/judgement.ts';
import { ChartTable } from '../chart/chart-table.tsx';
import { PlainPlot } from '../chart/plain-plot.tsx';
import { roundTicks, tickDigits } from '../chart/ticks.ts';
import { metres, percent } from '../format/numbers.ts';

/** Digits of the bin edges, which are between the diameters that the gauge can send. */
export function edgeDigits(edgesMm: readonly number[]): number {
  return [3, 4].find((digits) => edgesMm.every((mm) => Math.abs(Number(mm.toFixed(digits)) - mm) < 1e-9)) ?? 5;
}

/** Length of strand by diameter. */
export function Histogram({
  histogram,
  limits,
  measuredMm,
}: {
  histogram: StatisticsView['histogram'];
  limits: SpoolJudgement['limits'];
  measuredMm: number;
}) {
  const { edgesMm, lengthsMm } = histogram;
  const edges = edgesMm.map((mm) => mm.toFixed(edgeDigits(edgesMm)));
  const most = Math.max(1, ...lengthsMm);
  const [from, to] = [edgesMm[0] ?? 0, edgesMm.at(-1) ?? 1];
  const xs = roundTicks(from, to, 7);
  const ys = roundTicks(0, most / 1000, 3).filter((y) => y > 0);
  const [low, high] = [limits.nominalMm - limits.toleranceMm, limits.nominalMm + limits.toleranceMm];
  return (
    <figure class="plain-figure">
      <PlainPlot
        height={200}
        x={[from, to]}
        y={[0, most * 1.04]}
        xTicks={xs.map((x) => [x, x.toFixed(tickDigits(xs))])}
        yTicks={ys.map((y) => [y * 1000, y.toFixed(tickDigits(ys))])}
        xText="diameter, mm"
        yText="metres"
        label={`Metres of strand by diameter; the tolerance band is from ${low.toFixed(3)} to ${high.toFixed(3)} mm. The numbers are in the table below.`}
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
            {lengthsMm.map((mm, i) => {
              const [left, right] = [at.x(edgesMm[i]!), at.x(edgesMm[i + 1]!)];
              const middle = (edgesMm[i]! + edgesMm[i + 1]!) / 2;
              const height = mm <= 0 ? 0 : Math.max(1.5, at.bottom - at.y(mm));
              return (
                <rect
                  key={edgesMm[i]}
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
      <figcaption class="fine">
        Within tolerance: filled; outside: outlined.
        {histogram.belowMm + histogram.aboveMm > 0 &&
          ` Beyond the chart: ${metres(histogram.belowMm)} m thinner and ${metres(histogram.aboveMm)} m thicker.`}
      </figcaption>
      <ChartTable
        caption="Metres of strand by diameter"
        columns={['Diameter, mm', 'Metres', 'Share']}
        rows={() =>
          lengthsMm.flatMap((mm, i) =>
            mm > 0 ? [[`${edges[i]} to ${edges[i + 1]}`, metres(mm), percent(mm / measuredMm)]] : [],
          )
        }
      />
    </figure>
  );
}
