import { useSignal } from '@preact/signals';
import { useMemo } from 'preact/hooks';
import type { RunDetail, SectionView, SpoolView } from '../../server/api/contract/runs-and-spools.ts';
import type { DiameterLimits } from '../chart/diameter-scale.ts';
import type { Range } from '../chart/view-range.ts';
import { WindowChart } from '../chart/window-chart.tsx';
import type { PlotMark } from '../chart/window-plot.ts';

interface Props {
  readonly runId: number;
  readonly spools: readonly SpoolView[];
  readonly sections: readonly SectionView[];
  /** The limits of the run, used where nothing was wound. */
  readonly limits: DiameterLimits;
  readonly extent: NonNullable<RunDetail['extent']>;
}

/** The diameter along each spool, or along the whole strand if nothing was wound. */
export function SpoolCharts({ runId, spools, sections, limits, extent }: Props) {
  const wound = spools.filter((spool) => spool.woundMm > 0);
  return (
    <section aria-labelledby="diameter-title">
      <h2 id="diameter-title">The diameter along the strand</h2>
      {wound.map((spool) => (
        <OneChart
          key={`${spool.id} ${spool.endedMs ?? 'open'}`}
          runId={runId}
          whole={[spool.startGaugeMm, spool.startGaugeMm + spool.woundMm / spool.lengthFactor]}
          zeroMm={spool.startGaugeMm}
          lengthFactor={spool.lengthFactor}
          sections={sections}
          limits={spool.limits}
          title={`Spool ${spool.ordinal}, metres from its inner end`}
          aside={spool.limitsChanged ? 'The limits were changed while it was wound: the last ones are drawn.' : ''}
        />
      ))}
      {wound.length === 0 && extent.toGaugeMm > extent.fromGaugeMm && (
        <OneChart
          runId={runId}
          whole={[extent.fromGaugeMm, extent.toGaugeMm]}
          zeroMm={0}
          lengthFactor={1}
          sections={sections}
          limits={limits}
          title="All that passed the gauge, metres"
        />
      )}
    </section>
  );
}

function OneChart(props: {
  runId: number;
  whole: Range;
  zeroMm: number;
  lengthFactor: number;
  sections: readonly SectionView[];
  limits: DiameterLimits;
  title: string;
  aside?: string;
}) {
  const view = useSignal<Range>(props.whole);
  const marks = useMemo<PlotMark[]>(
    () => props.sections.map(({ fromGaugeMm: from, toGaugeMm: to, kind, verdict }) => ({ from, to, kind, verdict })),
    [props.sections],
  );
  return (
    <figure class="chart">
      <figcaption>
        {props.title}
        {props.aside && <span class="fine"> {props.aside}</span>}
      </figcaption>
      <WindowChart
        runId={props.runId}
        axis="length"
        whole={props.whole}
        view={view}
        signal="d"
        limits={props.limits}
        zeroMm={props.zeroMm}
        lengthFactor={props.lengthFactor}
        marks={marks}
        height={260}
        title={props.title}
      />
    </figure>
  );
}
