import { useEffect, useState } from 'preact/hooks';
import type { ChartsView } from '../../server/api/contract/judgement.ts';
import { ChartTable } from '../chart/chart-table.tsx';
import { PlainPlot, pathThrough } from '../chart/plain-plot.tsx';
import { roundTicks, tickDigits, twoTicksAtLeast } from '../chart/ticks.ts';
import { counted, diameter, length, metres } from '../format/numbers.ts';
import { call } from '../service/call.ts';
import { asProblem, isAbort, type ServiceProblem } from '../service/request.ts';
import { ProblemNote } from '../shell/problem-note.tsx';
import { boundsOf, signalText } from './chart-text.ts';

/** Fetches the control charts of a spool, for which the service reads all its readings. */
export function ControlPart({ spoolId }: { spoolId: number }) {
  const [charts, setCharts] = useState<ChartsView | null | 'pending'>('pending');
  const [problem, setProblem] = useState<ServiceProblem | null>(null);
  useEffect(() => {
    const controller = new AbortController();
    call('GET /api/spools/:id/charts', { params: { id: spoolId }, signal: controller.signal }).then(
      setCharts,
      (thrown) => {
        if (!isAbort(thrown)) setProblem(asProblem(thrown));
      },
    );
    return () => controller.abort();
  }, [spoolId]);
  if (problem) return <ProblemNote problem={problem} />;
  if (charts === 'pending') return <p class="quiet">Reading the strand …</p>;
  if (charts === null) return <p>There is too little strand for control charts, or none of it varied.</p>;
  return <ControlCharts charts={charts} />;
}

interface ChartProps {
  readonly title: string;
  readonly text: string;
  readonly at: readonly number[];
  readonly line: readonly (number | null)[];
  readonly second?: readonly (number | null)[];
  readonly centre: number;
  readonly upper: readonly number[];
  readonly lower: readonly number[] | null;
  readonly beyond: readonly number[];
  readonly height?: number;
  readonly xText?: string;
}

/** Individuals, moving range, EWMA and CUSUM along the strand. */
function ControlCharts({ charts }: { charts: ChartsView }) {
  const { individuals: i, ewma, cusum, atMm, meanMm } = charts;
  const same = (value: number) => atMm.map(() => value);
  return (
    <div class="control-charts">
      <p class="fine">
        Each point is the mean of {length(charts.stepMm)} of strand. Dashed: control limits, which follow from the
        strand’s own short-term spread and not from the tolerance. Triangles: points beyond them.
      </p>
      <ControlChart
        title="Individuals"
        text={signalText(i.signals, i.beyond.length)}
        at={atMm}
        line={meanMm}
        centre={i.centreMm}
        upper={same(i.upperMm)}
        lower={same(i.lowerMm)}
        beyond={i.beyond}
      />
      <ControlChart
        title="Moving range"
        text={`Upper limit ${diameter(i.movingRangeUpperMm)} mm.`}
        at={atMm}
        line={i.movingRangeMm}
        centre={0}
        upper={same(i.movingRangeUpperMm)}
        lower={null}
        beyond={i.movingRangeMm.flatMap((range, k) => (range !== null && range > i.movingRangeUpperMm ? [k] : []))}
        height={120}
      />
      <ControlChart
        title={`EWMA, λ = ${ewma.lambda}`}
        text={
          ewma.beyond.length === 0
            ? 'No slow drift from the nominal diameter.'
            : `${counted(ewma.beyond.length, 'point is', 'points are')} beyond the limits: the mean drifted off the nominal diameter.`
        }
        at={atMm}
        line={ewma.averageMm}
        centre={ewma.targetMm}
        upper={ewma.upperMm}
        lower={ewma.lowerMm}
        beyond={ewma.beyond}
      />
      <ControlChart
        title="CUSUM"
        text={
          cusum.signal === null
            ? 'No lasting shift from the nominal diameter.'
            : `A shift to the ${cusum.signal.side === 'high' ? 'thick' : 'thin'} side is sure at ${metres(atMm[cusum.signal.index] ?? 0, 1)} m; it began about ${metres(atMm[cusum.signal.since] ?? 0, 1)} m.`
        }
        at={atMm}
        line={cusum.highMm}
        second={cusum.lowMm.map((low) => -low)}
        centre={0}
        upper={same(cusum.decisionMm)}
        lower={same(-cusum.decisionMm)}
        beyond={cusum.signal === null ? [] : [cusum.signal.index]}
        xText="metres from the inner end"
      />
      <ChartTable
        caption="The points of the control charts"
        columns={['Metre', 'Mean, mm', 'Moving range, mm', 'EWMA, mm', 'CUSUM high, mm', 'CUSUM low, mm']}
        rows={() =>
          atMm.map((mm, k) => [
            metres(mm, 1),
            diameter(meanMm[k] ?? null),
            diameter(i.movingRangeMm[k] ?? null),
            diameter(ewma.averageMm[k] ?? null),
            diameter(cusum.highMm[k] ?? null),
            diameter(cusum.lowMm[k] ?? null),
          ])
        }
      />
    </div>
  );
}

function ControlChart(props: ChartProps) {
  const { at: places, line, second, upper, lower } = props;
  const [low, high] = boundsOf([line, second ?? [], upper, lower ?? []]);
  const range: [number, number] = [places[0] ?? 0, places.at(-1) ?? 1];
  const xs = roundTicks(range[0] / 1000, range[1] / 1000, 6);
  const ys = twoTicksAtLeast(low, high, 3);
  const height = props.height ?? 160;
  return (
    <figure class="plain-figure">
      <figcaption>
        <b>{props.title}.</b> {props.text}
      </figcaption>
      <PlainPlot
        height={height}
        x={range}
        y={[low, high]}
        xTicks={xs.map((x) => [x * 1000, x.toFixed(tickDigits(xs))])}
        yTicks={ys.map((y) => [y, y.toFixed(tickDigits(ys)).replace('-', '−')])}
        xText={props.xText ?? ''}
        yText="mm"
        label={`${props.title} along the strand. ${props.text}`}
      >
        {(at) => (
          <>
            <line class="plot-centre" x1={at.left} x2={at.right} y1={at.y(props.centre)} y2={at.y(props.centre)} />
            {[upper, lower].map(
              (limit, k) => limit && <path key={k} class="plot-limit" d={pathThrough(places, limit, at)} />,
            )}
            <path class="plot-line" d={pathThrough(places, line, at)} />
            {second && <path class="plot-line" d={pathThrough(places, second, at)} />}
            {props.beyond.map((k) => {
              const y = line[k];
              const value = second && (second[k] ?? 0) < (lower?.[k] ?? Number.NEGATIVE_INFINITY) ? second[k] : y;
              const place = places[k];
              if (value == null || place === undefined) return null;
              const [px, py] = [at.x(place), at.y(value)];
              const up = value >= props.centre ? -1 : 1;
              return <path key={k} class="plot-beyond" d={`M${px} ${py + 3 * up}l-4 ${7 * up}h8z`} />;
            })}
          </>
        )}
      </PlainPlot>
    </figure>
  );
}
