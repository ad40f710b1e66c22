import { useMemo, useState } from 'preact/hooks';
import type { SectionView } from '../../server/api/contract/runs-and-spools.ts';
import type { ReelView } from '../../server/api/contract/spool-analysis.ts';
import type { ReelPlace } from '../../server/strand/reel/reel-place.ts';
import { useWidth } from '../chart/use-width.ts';
import { sectionName, VERDICT_TEXT } from '../format/names.ts';
import { diameter, length, metres } from '../format/numbers.ts';
import { MarkLegend } from './mark-legend.tsx';
import {
  arcPath,
  arcsOf,
  barsOf,
  layerEdges,
  placeIn,
  placeText,
  sectionAtBar,
  sectionAtRing,
  widened,
} from './reel-picture.ts';

interface Props {
  readonly reel: ReelView;
  readonly sections: readonly SectionView[];
  /** Where the pointer is on the ribbon, mm from the inner end, true length. */
  readonly cursorMm: number;
  /** Shows a section on the ribbon. */
  readonly show: (section: SectionView) => void;
}

type Mark = 'discard' | 'doubtful' | 'unknown';
type ReelSection = ReelView['sections'][number];

function markOf(section: Pick<ReelSection, 'kind' | 'verdict'>): Mark | null {
  if (section.kind === 'unknown') return 'unknown';
  return section.verdict === 'good' ? null : section.verdict;
}

/** The classes of a mark, as on the ribbon: a thin spot is yellow. */
function lookOf(section: Pick<ReelSection, 'kind' | 'verdict'>): string {
  const mark = markOf(section);
  return mark === 'discard' && section.kind === 'neck' ? 'discard abnormal' : `${mark}`;
}

const ORDER: Record<Mark, number> = { unknown: 0, doubtful: 1, discard: 2 };

function lengthOf({ fromSpoolMm, toSpoolMm }: SectionView): number {
  return (toSpoolMm ?? 0) - (fromSpoolMm ?? 0);
}

/** The spool from the side and cut through its axis, with the marks of the ribbon. */
export function CrossSection({ reel, sections, cursorMm, show }: Props) {
  const [place, width] = useWidth<HTMLDivElement>();
  const [chosen, setChosen] = useState<string | null>(null);
  // The worst sections are drawn last, so that nothing hides them.
  const marked = useMemo(
    () =>
      reel.sections.filter((section) => markOf(section) !== null).sort((a, b) => ORDER[markOf(a)!] - ORDER[markOf(b)!]),
    [reel],
  );
  const inOrder = useMemo(() => [...marked].sort((a, b) => b.to.turns - a.to.turns), [marked]);
  const here = Math.max(0, Math.min(cursorMm, reel.woundMm));
  const at = useMemo(() => placeIn(reel, here), [reel, here]);
  const wide = width >= 620;
  const sideSize = Math.min(340, wide ? width * 0.44 : width);
  const cutWidth = wide ? Math.min(420, width - sideSize - 32) : width;

  const index = inOrder.findIndex((section) => section.id === chosen);
  const one = sections.find((section) => section.id === chosen);
  const choose = (id: string | null, open: boolean) => {
    setChosen(id);
    const section = sections.find((candidate) => candidate.id === id);
    if (open && section) show(section);
  };
  const key = (event: KeyboardEvent) => {
    const last = inOrder.length - 1;
    const to: Record<string, number> = {
      ArrowRight: Math.min(last, index + 1),
      ArrowDown: Math.min(last, index + 1),
      ArrowLeft: Math.max(0, index - 1),
      ArrowUp: Math.max(0, index - 1),
      Home: 0,
      End: last,
    };
    const next = to[event.key];
    if (next !== undefined) choose(inOrder[next]?.id ?? null, false);
    else if (event.key === 'Enter' || event.key === ' ') choose(chosen, true);
    else return;
    event.preventDefault();
  };
  const text = one
    ? `${sectionName(one)}${one.peakMm === null ? '' : ` ${diameter(one.peakMm)} mm`}, ${VERDICT_TEXT[one.verdict].toLowerCase()}, ${length(lengthOf(one))} long, ${metres(one.fromOuterMm ?? 0)} m from the outer end`
    : 'none chosen';
  return (
    <div ref={place}>
      <div
        class="reel-pictures"
        role="slider"
        tabIndex={0}
        aria-label="Marked stretches on the spool, from its outer end"
        aria-valuemin={0}
        aria-valuemax={Math.max(0, inOrder.length)}
        aria-valuenow={index + 1}
        aria-valuetext={text}
        data-testid="cross-section"
        onKeyDown={key}
      >
        {width > 0 && (
          <>
            <SideView reel={reel} marked={marked} size={sideSize} chosen={chosen} at={at} choose={choose} />
            <CutView reel={reel} marked={marked} width={cutWidth} chosen={chosen} at={at} choose={choose} />
          </>
        )}
      </div>
      <MarkLegend sections={marked} flags={false} end={false} />
      <p class="reel-caption" aria-live="polite">
        {one ? (
          <>
            <span class={`verdict-word ${one.verdict}`}>
              {sectionName(one)}
              {one.peakMm !== null && ` ${diameter(one.peakMm)}\u00a0mm`}
            </span>
            , {length(lengthOf(one))} long, {metres(one.fromOuterMm ?? 0)} m from the outer end.{' '}
            <button type="button" class="plain no-print" onClick={() => show(one)}>
              Show it on the ribbon
            </button>
          </>
        ) : (
          <>
            Pointer at {metres(here)} m: <b>{placeText(reel, at, here)}</b>.{' '}
            {inOrder.length > 0 && (
              <span class="quiet no-print">
                Press a mark, or use the arrow keys, and Enter to see it on the ribbon.
              </span>
            )}
          </>
        )}
      </p>
    </div>
  );
}

interface PictureProps {
  readonly reel: ReelView;
  readonly marked: readonly ReelSection[];
  readonly chosen: string | null;
  readonly at: ReelPlace;
  readonly choose: (id: string | null, open: boolean) => void;
}

/** Seen from the side: every layer is a ring around the core. The strand comes off the outside. */
function SideView({ reel, marked, size, chosen, at, choose }: PictureProps & { size: number }) {
  const { shape } = reel;
  const middle = size / 2;
  const px = (size / 2 - 3) / (Math.max(shape.flangeDiameterMm, reel.outerDiameterMm) / 2);
  const core = shape.coreDiameterMm / 2;
  const ring = Math.max(1.6, shape.strandMm * px * 0.8);
  const outer = core + Math.ceil(reel.layers) * shape.strandMm;
  const cursor = { radiusMm: at.radiusMm, turn: at.turns % 1 };
  return (
    <svg
      class="reel-side"
      width={size}
      height={size}
      viewBox={`0 0 ${size} ${size}`}
      aria-hidden="true"
      focusable="false"
      onClick={(event) => {
        const box = event.currentTarget.getBoundingClientRect();
        const [dx, dy] = [event.clientX - box.left - middle, event.clientY - box.top - middle];
        choose(sectionAtRing({ ...reel, sections: [...marked] }, dx / px, dy / px), true);
      }}
    >
      <circle class="reel-flange" cx={middle} cy={middle} r={(shape.flangeDiameterMm / 2) * px} />
      <circle class="reel-wound" cx={middle} cy={middle} r={outer * px} />
      {layerEdges(reel).map((up) => (
        <circle key={up} class="reel-layer" cx={middle} cy={middle} r={(core + up) * px} />
      ))}
      {marked.flatMap((section) =>
        arcsOf(section.from, section.to, reel.turnsPerLayer, shape.strandMm).map((arc, i) => (
          <path
            key={`${section.id} ${i}`}
            class={`reel-arc ${lookOf(section)}${section.id === chosen ? ' chosen' : ''}`}
            stroke-width={section.id === chosen ? ring + 3 : ring}
            d={arcPath(widened(arc, 5 / px), middle, middle, px)}
          />
        )),
      )}
      <circle class="reel-core" cx={middle} cy={middle} r={core * px} />
      <circle class="reel-hole" cx={middle} cy={middle} r={Math.max(3, core * px * 0.3)} />
      <circle
        class="reel-pointer"
        cx={middle + cursor.radiusMm * px * Math.sin(cursor.turn * 2 * Math.PI)}
        cy={middle - cursor.radiusMm * px * Math.cos(cursor.turn * 2 * Math.PI)}
        r={4}
      />
    </svg>
  );
}

/** Cut through the axis, upper half: the core below, a row for each layer, the flanges on both sides. */
function CutView({ reel, marked, width, chosen, at, choose }: PictureProps & { width: number }) {
  const { shape } = reel;
  const room = (shape.flangeDiameterMm - shape.coreDiameterMm) / 2;
  const flange = 5;
  const px = (width - 2 * flange) / shape.widthMm;
  const wound = Math.ceil(reel.layers) * shape.strandMm;
  const height = Math.min(340, Math.max(room, wound) * px) + 18;
  const py = (height - 18) / Math.max(room, wound, 1e-6);
  const base = height - 12;
  const end = placeIn(reel, reel.woundMm);
  return (
    <svg
      class="reel-cut"
      width={width}
      height={height}
      viewBox={`0 0 ${width} ${height}`}
      aria-hidden="true"
      focusable="false"
      onClick={(event) => {
        const box = event.currentTarget.getBoundingClientRect();
        const across = (event.clientX - box.left - flange) / px;
        const up = (base - (event.clientY - box.top)) / py;
        choose(sectionAtBar({ ...reel, sections: [...marked] }, across, up, 8 / Math.min(px, py)), true);
      }}
    >
      <defs>
        <pattern id="reel-hatch" width="5" height="5" patternUnits="userSpaceOnUse" patternTransform="rotate(45)">
          <rect class="hatch-ground" width="5" height="5" />
          <rect class="hatch-line" width="2" height="5" />
        </pattern>
        <pattern
          id="reel-hatch-abnormal"
          width="5"
          height="5"
          patternUnits="userSpaceOnUse"
          patternTransform="rotate(45)"
        >
          <rect class="dots-ground" width="5" height="5" />
          <rect class="dots-dot" width="2" height="5" />
        </pattern>
        <pattern id="reel-dots" width="5" height="5" patternUnits="userSpaceOnUse">
          <rect class="dots-ground" width="5" height="5" />
          <circle class="dots-dot" cx="2.5" cy="2.5" r="1.3" />
        </pattern>
      </defs>
      {layerEdges(reel)
        .slice(0, -1)
        .map((up, k, all) => {
          const last = k === all.length - 1;
          // The outermost layer may be incomplete. It fills from the flange at which it started.
          const share = last ? end.turns / reel.turnsPerLayer - k : 1;
          const full = shape.widthMm * Math.min(1, Math.max(0, share));
          return (
            <rect
              key={up}
              class="reel-row"
              x={flange + (k % 2 === 0 ? 0 : shape.widthMm - full) * px}
              width={full * px}
              y={base - (up + shape.strandMm) * py}
              height={shape.strandMm * py}
            />
          );
        })}
      {marked.flatMap((section) =>
        barsOf(section.path, shape).map((bar, i) => (
          <rect
            key={`${section.id} ${i}`}
            class={`reel-bar ${lookOf(section)}${section.id === chosen ? ' chosen' : ''}`}
            x={flange + bar.leftMm * px}
            width={Math.max(3, bar.widthMm * px)}
            y={base - (bar.bottomMm + bar.heightMm) * py}
            height={Math.max(3, bar.heightMm * py)}
          />
        )),
      )}
      <rect class="reel-core" x={0} width={width} y={base} height={10} />
      <rect class="reel-wall" x={0} width={flange} y={base - room * py} height={room * py + 10} />
      <rect class="reel-wall" x={width - flange} width={flange} y={base - room * py} height={room * py + 10} />
      <circle
        class="reel-pointer"
        cx={flange + at.acrossMm * px}
        cy={base - (at.radiusMm - shape.coreDiameterMm / 2) * py}
        r={4}
      />
    </svg>
  );
}
