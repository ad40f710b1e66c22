import { useComputed, useSignalEffect } from '@preact/signals';
import { useEffect, useLayoutEffect, useMemo, useRef, useState } from 'preact/hooks';
import type { SectionView } from '../../server/api/contract/runs-and-spools.ts';
import { ChartTable } from '../chart/chart-table.tsx';
import { sectionName, sectionTone } from '../format/names.ts';
import { diameter, metres } from '../format/numbers.ts';
import { live, onReadings, refetchVersion, staleForMs } from '../service/live-store.ts';
import { Shape } from '../shell/shape.tsx';
import { coloursVersion } from '../shell/theme.ts';
import { arrivalText, calloutLeft, distanceOf, placeCallouts, placeOf, strandOf } from './callouts.ts';
import { type PictureFrame, pictureFrame } from './picture-frame.ts';
import { SPANS, type SpanChoice } from './spans.ts';
import { type PictureView, StrandPicture } from './strand-picture.ts';

/** The strand from the gauge to the winder, and below it its diameter on the same metre axis. */
export function StrandFigure({ wall = false }: { wall?: boolean }) {
  const place = useRef<HTMLDivElement>(null);
  const band = useRef<HTMLCanvasElement>(null);
  const plot = useRef<HTMLDivElement>(null);
  const callouts = useRef<HTMLUListElement>(null);
  const picture = useMemo(() => new StrandPicture(), []);
  const [choice, setChoice] = useState<SpanChoice>('path');
  const [frame, setFrame] = useState(() =>
    pictureFrame(innerWidth * 0.93, innerHeight / 2, wall ? wallFontPx() : null),
  );

  useLayoutEffect(() => {
    let last: PictureFrame | null = null;
    // Its first report comes before the first picture, without a layout in between that would delay it.
    const watch = new ResizeObserver(([place]) => {
      const { width, height } = place!.contentRect;
      const next = pictureFrame(Math.max(280, Math.floor(width)), Math.floor(height), wall ? wallFontPx() : null);
      if (next.width === last?.width && next.traceHeight === last.traceHeight) return;
      setFrame(next);
      if (last === null) picture.start(band.current!, plot.current!, next);
      else picture.resize(next);
      last = next;
    });
    watch.observe(place.current!);
    const stopHearing = onReadings((readings) => picture.hearReadings(readings));
    picture.onDrawn = (view) => moveCallouts(callouts.current, view);
    return () => {
      watch.disconnect();
      stopHearing();
      picture.stop();
    };
  }, [picture, wall]);

  useEffect(() => picture.choose(choice), [picture, choice]);
  useSignalEffect(() => {
    if (live.value) picture.hearState(live.value, staleForMs.value !== null);
  });
  useSignalEffect(() => {
    coloursVersion.value;
    picture.recolour();
  });
  useSignalEffect(() => {
    if (refetchVersion.value > 0) picture.refetch();
  });

  const state = live.value;
  const onTheWay = useComputed(() => (live.value?.sections ?? []).filter((s) => isOnItsWay(s, live.value!)));
  const head = state?.now.gaugeMm ?? 0;
  const path = state?.limits.gaugeToWinderMm ?? 1000;
  const strand = state ? strandOf(state) : null;
  const span = choice === 'path' ? path * 1.03 : null;
  const items = onTheWay.value.map((section) => ({
    id: section.id,
    distanceMm: distanceOf(section, strand, head),
    countedDown: section.kind === 'blob' || section.kind === 'neck',
    section,
  }));
  const mmPerPx = (span ?? 10_000) / frame.plotWidth;
  const placed =
    choice === 'path' ? placeCallouts(items, mmPerPx, frame.calloutWidth, frame.plotWidth, frame.lanes) : [];

  return (
    <figure
      class={`strand-figure${wall ? ' on-wall' : ''}${staleForMs.value === null ? '' : ' stale'}`}
      aria-label="The strand from the gauge to the winder"
    >
      <div ref={place} class="strand-place">
        <canvas
          ref={band}
          class="strand-band"
          style={{ width: `${frame.width}px`, height: `${frame.bandHeight}px` }}
          role="img"
          aria-label={bandText(items.length, path)}
        />
        <ul ref={callouts} class="callouts" aria-label="On their way to the winder">
          {placed.map(({ id, lane }) => {
            const item = items.find((one) => one.id === id)!;
            return (
              <Callout
                key={id}
                section={item.section}
                top={(frame.lanes - 1 - lane) * frame.laneHeight}
                width={frame.calloutWidth}
                placeMm={placeOf(item.section, strand)}
                arrival={arrivalText(item.section, head - path, staleForMs.value, frame.brief)}
              />
            );
          })}
        </ul>
        <div
          ref={plot}
          class="strand-trace"
          style={{ height: `${frame.traceHeight}px` }}
          role="img"
          aria-label="Diameter along the strand"
        />
      </div>
      {!wall && (
        <figcaption>
          <fieldset class="switch">
            <legend>Shown</legend>
            {SPANS.map((one) => (
              <label key={one.value}>
                <input type="radio" name="span" checked={choice === one.value} onChange={() => setChoice(one.value)} />
                <span>{one.text}</span>
              </label>
            ))}
          </fieldset>
          <p class="fine">
            Length to scale; thickness drawn larger, and deviations from nominal larger still.
            {state?.now.surelySeenMm != null && state.now.surelySeenMm > 0.05 && (
              <> At this speed blobs under {state.now.surelySeenMm.toFixed(1)} mm may be missed.</>
            )}
          </p>
          <ChartTable
            caption="Diameter by distance from the gauge"
            columns={['From the gauge, m', 'Smallest, mm', 'Mean, mm', 'Largest, mm']}
            rows={() =>
              picture
                .rows(24)
                .map((row) => [
                  `${row.fromM.toFixed(2)} to ${row.toM.toFixed(2)}`,
                  diameter(row.min),
                  diameter(row.mean),
                  diameter(row.max),
                ])
            }
          />
        </figcaption>
      )}
    </figure>
  );
}

/** As `--wall-text` in wall.css: readable from four metres. */
const wallFontPx = () => Math.min(innerHeight, innerWidth) / 25;

function isOnItsWay(section: SectionView, state: NonNullable<typeof live.value>): boolean {
  if (section.verdict === 'good' || section.kind === 'unknown') return false;
  return distanceOf(section, strandOf(state), state.now.gaugeMm) < state.limits.gaugeToWinderMm;
}

function bandText(onTheWay: number, pathMm: number): string {
  const what =
    onTheWay === 0 ? 'nothing to cut is' : onTheWay === 1 ? 'one bad stretch is' : `${onTheWay} bad stretches are`;
  return `${metres(pathMm, 1)} m of strand between the gauge and the winder; ${what} on the way.`;
}

function Callout(props: { section: SectionView; top: number; width: number; placeMm: number; arrival: string }) {
  const { section } = props;
  const tone = sectionTone(section);
  return (
    <li
      class={`callout ${tone}`}
      style={{ top: `${props.top}px`, width: `${props.width}px` }}
      data-section={section.id}
      data-place={props.placeMm}
    >
      <Shape of={tone} size={18} />
      <span>
        <strong>
          {sectionName(section)}
          {section.peakMm !== null && ` ${diameter(section.peakMm)} mm`}
        </strong>{' '}
        <span class="countdown">{props.arrival}</span>
      </span>
    </li>
  );
}

/** Slides the callouts with the strand between two renders of the page. */
function moveCallouts(list: HTMLUListElement | null, view: PictureView): void {
  if (!list) return;
  for (const node of list.children) {
    const distance = Math.max(0, view.headMm - Number((node as HTMLElement).dataset.place));
    const left = calloutLeft(
      distance,
      view.spanMm / view.frame.plotWidth,
      view.frame.calloutWidth,
      view.frame.plotWidth,
    );
    (node as HTMLElement).style.transform = `translateX(${(view.frame.left + left).toFixed(1)}px)`;
  }
}
