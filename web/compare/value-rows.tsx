import type { ComparisonView, MeasureView } from '../../server/api/contract/comparison.ts';
import { ChartTable } from '../chart/chart-table.tsx';
import { PlainPlot } from '../chart/plain-plot.tsx';
import { roundTicks, tickDigits } from '../chart/ticks.ts';
import { groupMark } from './compare-groups.ts';
import { comparisonText, FINDING_TEXT, tooShortText, unitText, valueWithInterval } from './compare-text.ts';

const ROW_PX = 21;
/** With its name above. */
const TALL_ROW_PX = 36;
/** Longer names have no room beside the axis. */
const NAME_MAX = 8;

/** One measure: a row for each run with its value and interval, and the mean of each group, all on one axis. */
export function ValueRows({ measure, groups }: { measure: MeasureView; groups: ComparisonView['groups'] }) {
  const rows = rowsOf(measure, groups);
  const short = tooShortText(measure);
  const ends = rows.flatMap(({ value, interval }) => [
    ...(value === null ? [] : [value]),
    ...(interval === null ? [] : [interval.lower, interval.upper]),
  ]);
  const [from, to] = spanOf(ends);
  const scale = measure.unit === 'share' ? 100 : 1;
  const isTall = rows.some(({ name }) => name.length > NAME_MAX);
  const xs = roundTicks(from * scale, to * scale, 5);
  return (
    <figure class="plain-figure compare-measure" data-testid="measure" data-measure={measure.key}>
      <h3>{measure.title}</h3>
      {measure.comparisons.map((comparison) => (
        <p key={comparison.group} class={`compare-found ${comparison.finding}`}>
          {comparisonText(measure, comparison, groups)}
        </p>
      ))}
      {short !== '' && <p class="fine">{short}</p>}
      <PlainPlot
        height={rows.length * (isTall ? TALL_ROW_PX : ROW_PX) + 50}
        x={[from, to]}
        y={[rows.length, 0]}
        xTicks={xs.map((x) => [x / scale, x.toFixed(tickDigits(xs))])}
        yTicks={rows.map(({ name }, i) => [i + 0.5, isTall ? '' : name])}
        {...(isTall ? { leftPx: 6 } : {})}
        xText={unitText(measure.unit)}
        yText=""
        label={`${measure.title}, one row per run with its 95 % interval. The numbers are in the table below.`}
      >
        {(at) =>
          rows.map(({ name, group, value, interval, mean }, i) => (
            <g key={name} class={mean ? 'compare-mean' : undefined}>
              {isTall && (
                <text class="plot-text" x={at.left} y={at.y(i + 0.5) - 10}>
                  {name}
                </text>
              )}
              {interval && (
                <path
                  class="compare-interval"
                  d={`M${at.x(interval.lower)} ${at.y(i + 0.5) - 4}v8M${at.x(interval.lower)} ${at.y(i + 0.5)}H${at.x(interval.upper)}m0 -4v8`}
                />
              )}
              {value !== null && <Mark group={group} x={at.x(value)} y={at.y(i + 0.5)} />}
            </g>
          ))
        }
      </PlainPlot>
      <ChartTable
        caption={`${measure.title}, with 95 % intervals`}
        columns={['Run', 'Value', ...(measure.comparisons.length > 0 ? ['Compared with the first'] : [])]}
        rows={() =>
          rows.map(({ name, group, value, interval, last }) => {
            const found = last ? measure.comparisons.find((one) => one.group === group) : undefined;
            return [
              `${name}, group ${groupMark(group)}`,
              valueWithInterval(measure.unit, value, interval),
              found === undefined ? '' : `${FINDING_TEXT[found.finding]}${chanceText(found)}`,
            ];
          })
        }
      />
    </figure>
  );
}

interface Row {
  readonly name: string;
  readonly group: number;
  readonly value: number | null;
  readonly interval: { readonly lower: number; readonly upper: number } | null;
  /** The mean of several runs. */
  readonly mean: boolean;
  /** The finding, shown in the last row of its group. */
  readonly last: boolean;
}

function rowsOf({ runs, groups: values }: MeasureView, groups: ComparisonView['groups']): Row[] {
  return groups.flatMap((ofGroup, group): Row[] => {
    const own = runs.filter((one) => one.group === group);
    const several = ofGroup.runs.length > 1;
    return [
      ...own.map(({ name, value, interval }, i) => ({
        name,
        group,
        value,
        interval,
        mean: false,
        last: !several && i === own.length - 1,
      })),
      ...(several ? [{ name: `all ${groupMark(group)}`, group, ...values[group]!, mean: true, last: true }] : []),
    ];
  });
}

/** Each group has its own shape. */
function Mark({ group, x, y }: { group: number; x: number; y: number }) {
  const r = 4.5;
  const shapes = [
    `M${x - r} ${y}a${r} ${r} 0 1 0 ${2 * r} 0a${r} ${r} 0 1 0 ${-2 * r} 0`,
    `M${x - r} ${y - r}h${2 * r}v${2 * r}h${-2 * r}z`,
    `M${x} ${y - 6}l6 6l-6 6l-6 -6z`,
    `M${x} ${y - 6}l5.5 10h-11z`,
    `M${x} ${y + 6}l5.5 -10h-11z`,
    `M${x - 6} ${y}h12M${x} ${y - 6}v12`,
  ];
  return <path class={group % 2 === 0 ? 'compare-mark' : 'compare-mark open'} d={shapes[group % shapes.length]} />;
}

function chanceText({ p, pAdjusted }: MeasureView['comparisons'][number]): string {
  if (p === null || pAdjusted === null) return '';
  const text = (one: number) => (one < 0.001 ? 'below 0.001' : one.toFixed(3));
  return ` (p ${text(p)}, ${text(pAdjusted)} after correction for all comparisons)`;
}

/** The range of the axis: a little wider than the values, even for a single one. */
function spanOf(ends: readonly number[]): [number, number] {
  if (ends.length === 0) return [0, 1];
  const [least, most] = [Math.min(...ends), Math.max(...ends)];
  const room = most > least ? (most - least) * 0.06 : Math.max(Math.abs(most) * 0.1, 1e-3);
  return [least >= 0 && least - room < 0 ? 0 : least - room, most + room];
}
