import { useSignal } from '@preact/signals';
import { useMemo } from 'preact/hooks';
import type { RunDetail, SectionView, SpoolView } from '../../server/api/contract/runs-and-spools.ts';
import { spoolPositionMm } from '../../server/strand/position.ts';
import type { DiameterLimits } from '../chart/diameter-scale.ts';
import type { Range } from '../chart/view-range.ts';
import { WindowChart } from '../chart/window-chart.tsx';
import type { PlotMark } from '../chart/window-plot.ts';
import { doubtText, sectionName, sectionTone } from '../format/names.ts';
import { diameter, length, metresText } from '../format/numbers.ts';
import { Fold } from '../shell/fold.tsx';
import { Shape } from '../shell/shape.tsx';
import { ordered } from '../spool/section-order.ts';

interface Props {
  readonly runId: number;
  readonly spools: readonly SpoolView[];
  readonly sections: readonly SectionView[];
  readonly limits: DiameterLimits;
  readonly extent: RunDetail['extent'];
}

/** Traces that are not folded on a screen. */
const SHOWN = 2;

/** The five worst stretches, each with a small trace. */
export function WorstStretches({ runId, spools, sections, limits, extent }: Props) {
  const bad = sections.filter((s) => s.verdict !== 'good' && s.spoolId !== null);
  const worst = ordered(bad, 'worst', limits.nominalMm).slice(0, 5);
  if (worst.length === 0 || !extent) return null;
  const listed = (some: readonly SectionView[]) => (
    <ol class="worst-list">
      {some.map((section) => (
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
  );
  return (
    <section aria-labelledby="worst-title">
      <h2 id="worst-title">{worst.length === 1 ? 'The worst stretch' : 'The worst stretches'}</h2>
      {listed(worst.slice(0, SHOWN))}
      {worst.length > SHOWN && (
        <Fold title={`The next ${worst.length - SHOWN}`} offPaper>
          {listed(worst.slice(SHOWN))}
        </Fold>
      )}
    </section>
  );
}

/** The stretch with some strand on either side, limited to the readings; empty where there are none. */
function aroundStretch([fromMm, toMm]: Range, [wholeFrom, wholeTo]: Range): Range {
  const margin = Math.max(150, (toMm - fromMm) * 1.5);
  const from = Math.min(Math.max(wholeFrom, fromMm - margin), wholeTo);
  return [from, Math.max(from, Math.min(wholeTo, toMm + margin))];
}

function Stretch(props: {
  runId: number;
  section: SectionView;
  spool: SpoolView | undefined;
  limits: DiameterLimits;
  whole: Range;
}) {
  const { section, spool } = props;
  const at = (gaugeMm: number) => (spool === undefined ? gaugeMm : spoolPositionMm(gaugeMm, spool));
  const [from, to] = [at(section.fromGaugeMm), at(section.toGaugeMm)];
  const whole: Range = [at(props.whole[0]), at(props.whole[1])];
  const view = useSignal<Range>(aroundStretch([from, to], whole));
  const read = view.value[1] > view.value[0];
  const marks = useMemo<PlotMark[]>(
    () => [{ from, to, kind: section.kind, verdict: section.verdict }],
    [from, to, section.kind, section.verdict],
  );
  return (
    <li class="stretch">
      <p>
        <Shape of={sectionTone(section)} size={18} />{' '}
        <strong>
          {sectionName(section)}
          {section.peakMm !== null && ` ${diameter(section.peakMm)}\u00a0mm`}
        </strong>
        {doubtText(section)}, {length(to - from)} long
        {spool && section.fromSpoolMm !== null && (
          <>
            ; spool {spool.ordinal}, {metresText(Math.max(0, section.fromSpoolMm))} from the inner end,{' '}
            {metresText(Math.max(0, spool.woundMm - (section.toSpoolMm ?? 0)))} from the outer end
          </>
        )}
        .
      </p>
      {read ? (
        <WindowChart
          bare
          runId={props.runId}
          axis="length"
          whole={whole}
          view={view}
          signal="d"
          quantity="diameter"
          limits={props.limits}
          {...(spool && { strand: spool })}
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
