import { type Signal, useSignal } from '@preact/signals';
import { useMemo, useState } from 'preact/hooks';
import type { RunDetail } from '../../server/api/contract/runs-and-spools.ts';
import { spoolPositionMm } from '../../server/strand/position.ts';
import type { QUANTITIES } from '../chart/quantity.ts';
import type { Range } from '../chart/view-range.ts';
import { WindowChart } from '../chart/window-chart.tsx';
import type { PlotMark } from '../chart/window-plot.ts';
import { metres } from '../format/numbers.ts';
import { live } from '../service/live-store.ts';
import { settings } from '../service/settings.ts';

type Extent = NonNullable<RunDetail['extent']>;
type Detail = Omit<RunDetail, 'extent'> & { readonly extent: Extent };

interface Trace {
  readonly name: string;
  readonly signal: string;
  readonly setPoint?: string;
  readonly quantity: keyof typeof QUANTITIES;
  readonly height: number;
}

const ZONES = [1, 2, 3, 4, 5, 6, 7, 8];

/** Of all readings, at least a second. */
export function wholeRun({ fromMs, toMs }: Extent): Range {
  return [fromMs, Math.max(toMs, fromMs + 1000)];
}

/** Diameter, temperature and power of one zone, and speed: one below the other over the same time. */
export function RunTraces(props: {
  readonly detail: Detail;
  /** What is shown at first; by default all. */
  readonly from?: Range;
  /** The zone shown at first; null = the last, the die. */
  readonly zone: number | null;
  readonly title: string;
}) {
  const { detail, title } = props;
  const { extent } = detail;
  const whole = wholeRun(extent);
  const view = useSignal<Range>(props.from ?? whole);
  const sent = new Set(extent.signals.map(({ name }) => name));
  const zones = ZONES.filter((zone) => sent.has(`t${zone}`));
  const [zone, setZone] = useState(props.zone ?? zones.at(-1) ?? null);
  const zoneNames = settings.value?.zoneNames ?? live.value?.zones.map(({ name }) => name) ?? [];
  const nameOf = (one: number) => zoneNames[one - 1] ?? `Zone ${one}`;
  const traces = tracesOf(zone, zone === null ? '' : nameOf(zone)).filter(({ signal }) => sent.has(signal));
  const marks = useMemo<PlotMark[]>(
    () =>
      detail.sections.flatMap(({ fromTimeMs, toTimeMs, kind, verdict }) =>
        fromTimeMs === null || toTimeMs === null ? [] : [{ from: fromTimeMs, to: toTimeMs, kind, verdict }],
      ),
    [detail.sections],
  );
  return (
    <div class="traces">
      {zones.length > 1 && (
        <label class="zone-choice no-print">
          Zone{' '}
          <select value={zone ?? ''} onChange={(event) => setZone(Number(event.currentTarget.value))}>
            {zones.map((one) => (
              <option key={one} value={one}>
                {nameOf(one)}
              </option>
            ))}
          </select>
        </label>
      )}
      {traces.map((trace, i) => (
        <OneTrace
          // Another zone is another chart.
          key={trace.signal}
          detail={detail}
          trace={trace}
          whole={whole}
          view={view}
          marks={trace.signal === 'd' ? marks : []}
          title={`${trace.name}, ${title}`}
          bare={i < traces.length - 1}
        />
      ))}
    </div>
  );
}

function tracesOf(zone: number | null, name: string): Trace[] {
  return [
    { name: 'Diameter, mm', signal: 'd', quantity: 'diameter', height: 190 },
    ...(zone === null
      ? []
      : [
          {
            name: `${name}: temperature, °C`,
            signal: `t${zone}`,
            setPoint: `s${zone}`,
            quantity: 'temperature',
            height: 130,
          } as const,
          { name: `${name}: power, %`, signal: `p${zone}`, quantity: 'power', height: 95 } as const,
        ]),
    { name: 'Speed, mm/s', signal: 'v', quantity: 'speed', height: 95 },
  ];
}

function OneTrace(props: {
  readonly detail: Detail;
  readonly trace: Trace;
  readonly whole: Range;
  readonly view: Signal<Range>;
  readonly marks: readonly PlotMark[];
  readonly title: string;
  readonly bare: boolean;
}) {
  const { detail, trace } = props;
  const { run, spools, limits } = detail;
  const placeText = (gaugeMm: number): string => {
    const on = spools.findLast(({ startGaugeMm }) => gaugeMm >= startGaugeMm);
    if (on === undefined) return '';
    const atMm = spoolPositionMm(gaugeMm, on);
    if (atMm > on.woundMm) return '';
    return `, ${metres(atMm)} m${spools.length > 1 ? ` of spool ${on.ordinal}` : ''}`;
  };
  return (
    <figure class="chart">
      <figcaption>{trace.name}</figcaption>
      <WindowChart
        runId={run.id}
        axis="time"
        whole={props.whole}
        view={props.view}
        signal={trace.signal}
        {...(trace.setPoint === undefined ? {} : { setPoint: trace.setPoint })}
        quantity={trace.quantity}
        {...(trace.signal === 'd' ? { limits } : {})}
        belowDiameter
        timeZone={run.timeZone}
        placeText={placeText}
        marks={props.marks}
        height={trace.height}
        title={props.title}
        bare={props.bare}
      />
    </figure>
  );
}
