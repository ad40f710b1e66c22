import { useSignal } from '@preact/signals';
import type { RunDetail, RunView } from '../../server/api/contract/runs-and-spools.ts';
import type { Range } from '../chart/view-range.ts';
import { WindowChart } from '../chart/window-chart.tsx';
import { live } from '../service/live-store.ts';
import { settings } from '../service/settings.ts';

/** The zones over time, one below the other and with a shared zoom. */
export function HeatCharts({ run, extent }: { run: RunView; extent: NonNullable<RunDetail['extent']> }) {
  const whole: Range = [extent.fromMs, Math.max(extent.toMs, extent.fromMs + 1000)];
  const view = useSignal<Range>(whole);
  const names = new Set(extent.signals.map((signal) => signal.name));
  const zones = [1, 2, 3, 4, 5, 6, 7, 8].filter((zone) => names.has(`t${zone}`));
  if (zones.length === 0) return null;
  const zoneNames = settings.value?.zoneNames ?? live.value?.zones.map((zone) => zone.name) ?? [];
  return (
    <section aria-labelledby="heat-title">
      <h2 id="heat-title">Temperatures during the run</h2>
      <p class="fine">
        Line: temperature, °C. Dashed: set-point. All zoom together. The grey band of the live page, where a reading is
        expected, is calculated each second from what Strandward has learnt about the zone, and is not stored. A reading
        that was outside it for long is among the alarms below.
      </p>
      {zones.map((zone, i) => {
        const title = zoneNames[zone - 1] ?? `Zone ${zone}`;
        return (
          <figure class="chart" key={zone}>
            <figcaption>{title}</figcaption>
            <WindowChart
              runId={run.id}
              axis="time"
              whole={whole}
              view={view}
              signal={`t${zone}`}
              setPoint={`s${zone}`}
              timeZone={run.timeZone}
              height={130}
              title={`${title}, °C`}
              bare={i < zones.length - 1}
            />
          </figure>
        );
      })}
    </section>
  );
}
