import { useSignalEffect } from '@preact/signals';
import { useEffect, useMemo, useRef } from 'preact/hooks';
import type { ZoneView } from '../../server/api/contract/live-state.ts';
import { ChartTable } from '../chart/chart-table.tsx';
import { readColours } from '../chart/colours.ts';
import { DOING_TEXT, FAULT_TEXT } from '../format/names.ts';
import { percent, temperature } from '../format/numbers.ts';
import { clockWithSeconds, span } from '../format/times.ts';
import { call } from '../service/call.ts';
import { lineNowMs, live, nowMs, onReadings, refetchVersion } from '../service/live-store.ts';
import { logFailure } from '../service/request.ts';
import { settings } from '../service/settings.ts';
import { requestWindow } from '../service/window.ts';
import { inTurn } from '../shell/in-turn.ts';
import { Lazily, lazyPart } from '../shell/lazily.tsx';
import { Shape } from '../shell/shape.tsx';
import { coloursVersion } from '../shell/theme.ts';
import { ZoneHistory, zoneRanges } from './zone-history.ts';
import { ZonePlot } from './zone-plot.ts';

const HISTORY_S = 600;
const heatCoverage = lazyPart(() => import('./heat-coverage.tsx'));

/** The heated zones from the hopper to the die, each with a small trace of the last ten minutes. */
export function Zones() {
  const history = useMemo(() => new ZoneHistory(HISTORY_S), []);
  const plots = useMemo(() => new Map<number, { plot: ZonePlot; place: HTMLElement }>(), []);
  const zones = live.value?.zones ?? [];
  const within = settings.value?.atHeatWithinC ?? 5;
  const runId = live.value?.run?.id ?? null;
  const known = zones.map((zone) => zone.zone).join();

  useEffect(() => {
    const controller = new AbortController();
    call('GET /api/heat/expected', { signal: controller.signal }).then(
      (past) => history.fillExpected(past),
      (thrown) => {
        logFailure(thrown);
      },
    );
    return () => controller.abort();
  }, [history]);

  useEffect(() => onReadings((frame) => history.hear(frame)), [history]);

  useEffect(() => {
    if (runId === null || known === '') return;
    const controller = new AbortController();
    const state = live.peek();
    if (state === null) return;
    const to = state.now.timeMs ?? state.serverTimeMs;
    requestWindow(
      runId,
      {
        axis: 'time',
        from: to - HISTORY_S * 1000,
        to,
        columns: HISTORY_S / 2,
        signals: known.split(',').flatMap((zone) => [`t${zone}`, `s${zone}`]),
      },
      controller.signal,
    ).then(
      (window) => {
        for (const zone of known.split(',')) history.fill(Number(zone), window);
      },
      (thrown) => {
        logFailure(thrown);
      },
    );
    return () => controller.abort();
  }, [history, runId, known, refetchVersion.value]);

  useSignalEffect(() => {
    coloursVersion.value;
    nowMs.value;
    const state = live.peek();
    if (!state) return;
    const colours = readColours();
    const until = state.now.timeMs ?? state.serverTimeMs;
    const traces = new Map(state.zones.map((zone) => [zone.zone, history.trace(zone.zone, until)]));
    const lowest = new Map(
      [...traces].map(([zone, trace]) => [
        zone,
        trace.temperatureC.reduce<number>((low, c) => (c !== null && c < low ? c : low), Number.POSITIVE_INFINITY),
      ]),
    );
    const ranges = zoneRanges(state.zones, lowest);
    for (const zone of state.zones) {
      history.expect(zone, until);
      plots.get(zone.zone)?.plot.update(traces.get(zone.zone)!, {
        colours,
        range: ranges.get(zone.zone)!,
        fromS: until / 1000 - HISTORY_S,
        toS: until / 1000,
        setpointC: zone.setpointC,
        withinK: settings.peek()?.atHeatWithinC ?? 5,
        expected: history.expected(zone.zone),
      });
    }
  });

  if (zones.length === 0) {
    return (
      <section aria-labelledby="zones-title">
        <header class="section-head">
          <h2 id="zones-title">Heat</h2>
        </header>
        <p class="quiet">The line sends no temperature.</p>
      </section>
    );
  }
  return (
    <section aria-labelledby="zones-title">
      <header class="section-head">
        <h2 id="zones-title">Heat</h2>
        <span class="fine">
          From the hopper to the die, the last {HISTORY_S / 60} minutes. Straight band: at temperature, ±{within} °C
          {zones.some(({ expectedLowC }) => expectedLowC !== null) && '; grey: where the reading is expected'}
        </span>
      </header>
      <ol class="zone-list">
        {zones.map((zone) => (
          <Zone key={zone.zone} zone={zone} plots={plots} />
        ))}
      </ol>
      <Lazily part={heatCoverage} with={{}} />
      <ChartTable
        caption="Temperatures of the last ten minutes, °C"
        columns={['Time', ...zones.map((zone) => zone.name)]}
        rows={() => {
          const until = live.peek()?.now.timeMs ?? Date.now();
          const traces = zones.map((zone) => history.trace(zone.zone, until));
          return Array.from({ length: 21 }, (_, i) => {
            const at = Math.floor(until / 1000) - i * 30;
            return [
              clockWithSeconds(at * 1000),
              ...traces.map((trace) => {
                const k = trace.timeS.findLastIndex((s) => s <= at && s > at - 30);
                return k < 0 ? '–' : temperature(trace.temperatureC[k] ?? null);
              }),
            ];
          });
        }}
      />
    </section>
  );
}

function Zone({ zone, plots }: { zone: ZoneView; plots: Map<number, { plot: ZonePlot; place: HTMLElement }> }) {
  const place = useRef<HTMLDivElement>(null);
  useEffect(() => {
    const node = place.current!;
    const size = () => ({ width: Math.max(120, Math.floor(node.clientWidth)), height: node.clientHeight || 96 });
    const plot = new ZonePlot({
      colours: readColours(),
      range: [0, 250],
      fromS: 0,
      toS: 1,
      setpointC: null,
      withinK: 5,
      expected: { timeS: [], lowC: [], highC: [] },
    });
    const watch = new ResizeObserver(() => plot.resize(size()));
    // One plot after the other: together they would keep a phone from answering a press.
    const cancel = inTurn(() => {
      void plot.start(node, size);
      plots.set(zone.zone, { plot, place: node });
      watch.observe(node);
    });
    return () => {
      cancel();
      watch.disconnect();
      plots.delete(zone.zone);
      plot.stop();
    };
  }, [plots, zone.zone]);
  const faulty = zone.faults.length > 0 || zone.state === 'faulty';
  return (
    <li class={`zone${faulty ? ' faulty' : ''}`} data-testid="zone" data-doing={zone.state}>
      <h3>
        <span class="zone-number">{zone.zone}</span> {zone.name}
      </h3>
      <p class="zone-temperature">
        <span class="big">{temperature(zone.temperatureC)}</span>
        <span class="unit">°C</span>
      </p>
      <p class="zone-state">
        {faulty && (
          <>
            <Shape of="danger" size={16} />{' '}
          </>
        )}
        {faulty && zone.faults.length > 0
          ? zone.faults.map((fault) => FAULT_TEXT[fault]).join(', ')
          : DOING_TEXT[zone.state]}
        {!faulty && zone.atHeatSinceMs !== null && `, at temperature for ${span(lineNowMs.value - zone.atHeatSinceMs)}`}
      </p>
      <p class="zone-setpoint">
        set-point{' '}
        {zone.setpointC === null ? 'not sent' : zone.setpointC === 0 ? 'off' : `${temperature(zone.setpointC, 0)} °C`}
        {zone.power !== null && `, power ${percent(zone.power)}`}
      </p>
      <div
        ref={place}
        class="zone-trace"
        role="img"
        aria-label={`${zone.name}: ${temperature(zone.temperatureC)} °C, ${DOING_TEXT[zone.state]}`}
      />
    </li>
  );
}
