import { useEffect, useLayoutEffect, useMemo, useRef, useState } from 'preact/hooks';
import type { SpoolDetail } from '../../server/api/contract/runs-and-spools.ts';
import type { DiameterLimits } from '../chart/diameter-scale.ts';
import { sectionName, VERDICT_TEXT } from '../format/names.ts';
import { diameter, metres, temperature } from '../format/numbers.ts';
import { clockWithSeconds } from '../format/times.ts';
import { live } from '../service/live-store.ts';
import { RibbonData, type ValueAt } from './ribbon-data.ts';
import { movedBy, pieces, positionMm, type RibbonPlan, ribbonPlan } from './ribbon-plan.ts';
import { RibbonRow } from './ribbon-row.tsx';
import { neighbour, type PlacedSection, sectionAt } from './section-order.ts';
import type { Draft, SpoolModel } from './spool-model.ts';

interface RibbonProps {
  readonly model: SpoolModel;
  readonly detail: SpoolDetail;
  readonly sections: readonly PlacedSection[];
  readonly limits: DiameterLimits;
}

/** The whole spool as a page of text, with a cursor and a selection for pointer and keyboard. */
export function Ribbon({ model, detail, sections, limits }: RibbonProps) {
  const place = useRef<HTMLDivElement>(null);
  const [width, setWidth] = useState(0);
  const { spool } = detail;
  const lengthMm = Math.max(1, spool.woundMm);
  useLayoutEffect(() => {
    const measure = () => setWidth(Math.max(200, (place.current?.clientWidth ?? 600) - 48));
    measure();
    const watch = new ResizeObserver(measure);
    watch.observe(place.current!);
    return () => watch.disconnect();
  }, []);
  const plan = useMemo(() => ribbonPlan(lengthMm, width, devicePixelRatio), [lengthMm, width]);
  // Rows keep their traces while the spool grows. Only a new row length or width requests everything again.
  const zones = live.value?.zones.length ?? 0;
  const data = useMemo(
    () => new RibbonData(spool.runId, spool, plan, zones > 0 ? `t${zones}` : null),
    [
      zones,
      spool.runId,
      spool.startGaugeMm,
      spool.lengthFactor,
      JSON.stringify(spool.cutOuts),
      plan.rowMm,
      plan.columnsPerRow,
    ],
  );
  useEffect(() => () => data.stop(), [data]);
  usePointer(place, plan, model, sections);
  useEffect(() => {
    // Escape leaves whatever is open, wherever the focus is.
    const leave = (event: KeyboardEvent) => {
      if (event.key === 'Escape' && (model.draft.peek() ?? model.bounds.peek()) !== null) model.cancel();
    };
    addEventListener('keydown', leave);
    return () => removeEventListener('keydown', leave);
  }, [model]);

  const cursor = Math.min(model.cursorMm.value, lengthMm);
  const under = sectionAt(sections, cursor);
  data.version.value;
  const measured = valueText(data.valueAt(cursor), detail.run.timeZone);
  const text = `${metres(cursor, 3)} m from the inner end, ${metres(lengthMm - cursor, 3)} m from the outer end, ${
    under
      ? `${sectionName(under)}${under.peakMm === null ? '' : ` ${diameter(under.peakMm)} mm`}, ${VERDICT_TEXT[under.verdict].toLowerCase()}`
      : 'good'
  }${measured === '' ? '' : `, ${measured}`}`;

  const key = (event: KeyboardEvent) => {
    const at = model.cursorMm.peek();
    const draft = model.draft.peek();
    const moved = movedBy(event.key, event.altKey || event.ctrlKey, at, plan);
    const places = model.bounds.peek() !== null;
    if (moved !== null) {
      if (places) model.bounds.value = moved;
      else if (event.shiftKey) {
        // The edge at the cursor moves, the other one stays. Away from both edges a key must not stretch a section.
        const anchor = draft === null ? at : anchorOf(draft, at);
        if (anchor !== null) model.select(anchor, moved);
      }
      model.cursorMm.value = moved;
      place.current
        ?.querySelector(`[data-row="${Math.min(plan.rows - 1, Math.floor(moved / plan.rowMm))}"]`)
        ?.scrollIntoView({ block: 'nearest' });
    } else if (event.key === 'Enter' && places) {
      document.getElementById('bounds-place')?.focus();
    } else if (event.key === 'Enter') {
      if (!draft) {
        if (under) model.adjust(under);
        else model.mark(Math.max(0, at - 50), Math.min(lengthMm, at + 50));
      }
      document.getElementById('draft-from')?.focus();
      requestAnimationFrame(() => document.getElementById('draft-from')?.focus());
    } else if (event.key === 'Escape') {
      model.cancel();
    } else if (event.key === 'n' || event.key === 'p') {
      const next = neighbour(sections, at, event.key === 'n');
      if (next) model.cursorMm.value = Math.max(0, next.fromSpoolMm);
    } else return;
    event.preventDefault();
  };

  return (
    <div class="ribbon-frame">
      <p class="cursor-position" aria-hidden="true">
        <strong>{metres(cursor, 3)} m</strong> from the inner end <span class="dot">·</span>{' '}
        <strong>{metres(lengthMm - cursor, 3)} m</strong> from the outer end <span class="dot">·</span>{' '}
        {under ? (
          <span class={`verdict-word ${under.verdict}`}>
            {sectionName(under)}
            {under.peakMm !== null && ` ${diameter(under.peakMm)} mm`}, {VERDICT_TEXT[under.verdict].toLowerCase()}
          </span>
        ) : (
          'good'
        )}
        <span class="cursor-value" data-testid="cursor-value">
          {measured || '–'}
        </span>
      </p>
      <div
        ref={place}
        class="ribbon"
        data-testid="ribbon"
        data-row-mm={plan.rowMm}
        role="slider"
        tabIndex={0}
        aria-label="Place on the spool"
        aria-describedby="ribbon-keys"
        aria-valuemin={0}
        aria-valuemax={Math.round(lengthMm)}
        aria-valuenow={Math.round(cursor)}
        aria-valuetext={text}
        onKeyDown={key}
      >
        {width > 0 &&
          Array.from({ length: plan.rows }, (_, row) => (
            <RibbonRow key={row} row={row} plan={plan} data={data} limits={limits} sections={sections} model={model} />
          ))}
      </div>
      <p class="fine" id="ribbon-keys">
        {metres(plan.rowMm, plan.rowMm < 1000 ? 1 : 0)} m a row; the first metre wound is at the top left. Drag to mark
        a stretch, or use the arrow keys (with Alt 1 cm at a time), Shift to select, Enter to mark, N and P for the next
        and the previous stretch.
      </p>
    </div>
  );
}

/** Keys move the cursor in steps of at least 1 cm, so nearer than this it is at an edge. */
const AT_EDGE_MM = 1;

/** The edge that stays when a key moves the other one; null = the cursor is at neither. */
function anchorOf({ fromMm, toMm }: Draft, cursorMm: number): number | null {
  const [toFrom, toTo] = [Math.abs(fromMm - cursorMm), Math.abs(toMm - cursorMm)];
  if (Math.min(toFrom, toTo) > AT_EDGE_MM) return null;
  return toFrom < toTo ? toMm : fromMm;
}

/** "1.748 to 1.752 mm, die 195.2 °C, 21:14:03"; '' = nothing was measured there, or not fetched yet. */
function valueText(value: ValueAt | null, timeZone: string): string {
  if (value === null) return '';
  const { minMm, maxMm, dieC, timeMs } = value;
  const range = diameter(minMm) === diameter(maxMm) ? diameter(maxMm) : `${diameter(minMm)} to ${diameter(maxMm)}`;
  return [
    `${range}\u00a0mm`,
    ...(dieC === null ? [] : [`die ${temperature(dieC)}\u00a0°C`]),
    ...(timeMs === null ? [] : [clockWithSeconds(timeMs, timeZone)]),
  ].join(', ');
}

/** Pointer on the ribbon: hovering moves the cursor, dragging selects or moves an edge, pressing a section opens it. */
function usePointer(
  place: { readonly current: HTMLDivElement | null },
  plan: RibbonPlan,
  model: SpoolModel,
  sections: readonly PlacedSection[],
): void {
  const now = useRef({ plan, sections });
  now.current = { plan, sections };
  useEffect(() => {
    const node = place.current!;
    const EDGE_PX = 9;
    let drag: { anchorMm: number; startX: number; startY: number; moved: boolean; edge: boolean } | null = null;

    const at = (event: PointerEvent): number => {
      const { plan } = now.current;
      const rows = node.querySelectorAll<HTMLElement>('.row-strand');
      const first = rows[0]!.getBoundingClientRect();
      const pitch = rows.length > 1 ? rows[1]!.getBoundingClientRect().top - first.top : first.height;
      const row = Math.min(plan.rows - 1, Math.max(0, Math.floor((event.clientY - first.top) / pitch)));
      return positionMm(plan, row, (event.clientX - first.left) / first.width);
    };
    const nearEdge = (event: PointerEvent, edgeMm: number, last: boolean): boolean => {
      const { plan } = now.current;
      const piece = pieces(plan, edgeMm, edgeMm).at(last ? -1 : 0);
      const strand = piece && node.querySelectorAll<HTMLElement>('.row-strand')[piece.row]?.getBoundingClientRect();
      if (!piece || !strand) return false;
      const x = strand.left + piece.left * strand.width;
      const reach = event.pointerType === 'touch' ? EDGE_PX * 2 : EDGE_PX;
      return (
        event.clientY >= strand.top - 4 && event.clientY <= strand.bottom + 4 && Math.abs(event.clientX - x) <= reach
      );
    };
    const down = (event: PointerEvent) => {
      if (event.button !== 0) return;
      const draft = model.draft.peek();
      const mm = at(event);
      if (model.bounds.peek() !== null) model.bounds.value = mm;
      let anchorMm = mm;
      let edge = false;
      if (draft && nearEdge(event, draft.fromMm, false)) [anchorMm, edge] = [draft.toMm, true];
      else if (draft && nearEdge(event, draft.toMm, true)) [anchorMm, edge] = [draft.fromMm, true];
      drag = { anchorMm, startX: event.clientX, startY: event.clientY, moved: false, edge };
      model.cursorMm.value = mm;
      node.setPointerCapture(event.pointerId);
    };
    const move = (event: PointerEvent) => {
      const mm = at(event);
      model.cursorMm.value = mm;
      if (!drag) return;
      if (model.bounds.peek() !== null) {
        model.bounds.value = mm;
        return;
      }
      if (!drag.moved && Math.hypot(event.clientX - drag.startX, event.clientY - drag.startY) < 4) return;
      if (!drag.moved && !drag.edge) model.mark(drag.anchorMm, mm);
      else model.select(drag.anchorMm, mm);
      drag.moved = true;
    };
    const up = (event: PointerEvent) => {
      if (drag && !drag.moved && event.type === 'pointerup') {
        const { plan, sections } = now.current;
        const mm = at(event);
        const slack = (plan.rowMm / Math.max(1, node.clientWidth)) * 5;
        const hit =
          sectionAt(sections, mm) ?? sections.find((s) => mm > s.fromSpoolMm - slack && mm < s.toSpoolMm + slack);
        if (hit && model.bounds.peek() === null) model.adjust(hit);
      }
      if (event.type === 'pointerup' && (model.draft.peek() ?? model.bounds.peek()) !== null) {
        // The editor that opened may cover the pressed place.
        requestAnimationFrame(() => node.querySelector('.cursor')?.scrollIntoView({ block: 'nearest' }));
      }
      drag = null;
    };
    // An editor may open under the finger. The click that a browser makes of a tap must not press its buttons.
    const tapped = (event: TouchEvent) => {
      if (event.cancelable) event.preventDefault();
    };
    node.addEventListener('touchend', tapped, { passive: false });
    node.addEventListener('pointerdown', down);
    node.addEventListener('pointermove', move);
    node.addEventListener('pointerup', up);
    node.addEventListener('pointercancel', up);
    return () => {
      node.removeEventListener('touchend', tapped);
      node.removeEventListener('pointerdown', down);
      node.removeEventListener('pointermove', move);
      node.removeEventListener('pointerup', up);
      node.removeEventListener('pointercancel', up);
    };
  }, [place, model]);
}
