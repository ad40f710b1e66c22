import { useSignal } from '@preact/signals';
import { useMemo } from 'preact/hooks';
import type { RunDetail, SectionView, SpoolView } from '../../server/api/contract/runs-and-spools.ts';
import type { DiameterLimits } from '../chart/diameter-scale.ts';
import type { Range } from '../chart/view-range.ts';
import { WindowChart } from '../chart/window-chart.tsx';
import type { PlotMark } from '../chart/window-plot.ts';
import { sectionName } from '../format/names.ts';
import { diameter, length, metres } from '../format/numbers.ts';
import { Shape } from '../shell/shape.tsx';
import { ordered } from '../spool/section-order.ts';

interface Props {
  readonly runId: number;
  readonly spools: readonly SpoolView[];
  readonly sections: readonly SectionView[];
  readonly limits: DiameterLimits;
  readonly extent: RunDetail['extent'];
}

/** The five worst stretches, each with a small trace. */
export function WorstStretches({ runId, spools, sections, limits, extent }: Props) {
  const bad = sections.filter((s) => s.verdict !== 'good' && s.spoolId !== null);
  const worst = ordered(bad, 'worst', limits.nominalMm).slice(0, 5);
  if (worst.length === 0 || !extent) return null;
  return (
    <section aria-labelledby="worst-title">
      <h2 id="worst-title">
        {worst.length === 1
          ? 'The worst stretch'
          : `The ${['two', 'three', 'four', 'five'][worst.length - 2]} worst stretches`}
      </h2>
      <ol class="worst-list">
        {worst.map((section) => (
          <Stretch
            key={section.id}
            runId={runId}
            section={section}
            spool={spools.find((spool) => spool.id === section.spoolId)}
            limits={spools.find((spool) => spool.id === section.spoolId)?.limits ?? limits}
            whole={[extent.fromGaugeMm, extent.toGaugeMm]}
          />
        ))}
      </ol>
    </section>
  );
}

/** The stretch with some strand on either side, limited to the readings; empty where there are none. */
function aroundStretch({ fromGaugeMm, toGaugeMm }: SectionView, [wholeFrom, wholeTo]: Range): Range {
  const margin = Math.max(150, (toGaugeMm - fromGaugeMm) * 1.5);
  const from = Math.min(Math.max(wholeFrom, fromGaugeMm - margin), wholeTo);
  return [from, Math.max(from, Math.min(wholeTo, toGaugeMm + margin))];
}

function Stretch(props: {
  runId: number;
  section: SectionView;
  spool: SpoolView | undefined;
  limits: DiameterLimits;
  whole: Range;
}) {
  const { section, spool } = props;
  const long = section.toGaugeMm - section.fromGaugeMm;
  const view = useSignal<Range>(aroundStretch(section, props.whole));
  const read = view.value[1] > view.value[0];
  const marks = useMemo<PlotMark[]>(
    () => [{ from: section.fromGaugeMm, to: section.toGaugeMm, verdict: section.verdict }],
    [section.fromGaugeMm, section.toGaugeMm, section.verdict],
  );
  return (
    <li class="stretch">
      <p>
        <Shape of={section.verdict === 'discard' ? 'danger' : 'abnormal'} size={18} />{' '}
        <strong>
          {sectionName(section)}
          {section.peakMm !== null && ` ${diameter(section.peakMm)} mm`}
        </strong>
        , {length(long * (spool?.lengthFactor ?? 1))} long
        {spool && section.fromSpoolMm !== null && (
          <>
            ; spool {spool.ordinal}, {metres(Math.max(0, section.fromSpoolMm))} m from the inner end,{' '}
            {metres(Math.max(0, spool.woundMm - (section.toSpoolMm ?? 0)))} m from the outer end
          </>
        )}
        .
      </p>
      {read ? (
        <WindowChart
          bare
          runId={props.runId}
          axis="length"
          whole={props.whole}
          view={view}
          signal="d"
          quantity="diameter"
          limits={props.limits}
          zeroMm={spool?.startGaugeMm ?? 0}
          lengthFactor={spool?.lengthFactor ?? 1}
          marks={marks}
          height={150}
          title={`Diameter around ${sectionName(section).toLowerCase()}`}
        />
      ) : (
        <p class="fine">No readings: this strand passed the gauge before the run started.</p>
      )}
    </li>
  );
}
