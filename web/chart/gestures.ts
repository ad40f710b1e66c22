import { pan, type Range, zoom } from './view-range.ts';

export interface GestureTarget {
  /** The plotting area. */
  readonly area: HTMLElement;
  view(): Range;
  change(view: Range): void;
}

/** Pinch with two fingers, pan with one, pinch on a touchpad (which comes as ctrl + wheel). Returns how to stop. */
export function startGestures(target: GestureTarget): () => void {
  const { area } = target;
  const fingers = new Map<number, number>();
  const at = (clientX: number): number => {
    const box = area.getBoundingClientRect();
    const [from, to] = target.view();
    return from + ((clientX - box.left) / Math.max(1, box.width)) * (to - from);
  };
  const down = (event: PointerEvent) => {
    if (event.pointerType === 'touch') fingers.set(event.pointerId, event.clientX);
  };
  const move = (event: PointerEvent) => {
    const before = fingers.get(event.pointerId);
    if (before === undefined) return;
    const width = Math.max(1, area.getBoundingClientRect().width);
    const view = target.view();
    const perPx = (view[1] - view[0]) / width;
    if (fingers.size === 1) {
      target.change(pan(view, (before - event.clientX) * perPx));
    } else if (fingers.size === 2) {
      const other = [...fingers].find(([id]) => id !== event.pointerId)![1];
      const apartBefore = Math.max(12, Math.abs(before - other));
      const apart = Math.max(12, Math.abs(event.clientX - other));
      target.change(zoom(view, at(other), apartBefore / apart));
    }
    fingers.set(event.pointerId, event.clientX);
  };
  const up = (event: PointerEvent) => {
    fingers.delete(event.pointerId);
  };
  const wheel = (event: WheelEvent) => {
    const view = target.view();
    if (event.ctrlKey) {
      event.preventDefault();
      target.change(zoom(view, at(event.clientX), Math.exp(event.deltaY * 0.01)));
    } else if (event.shiftKey || Math.abs(event.deltaX) > Math.abs(event.deltaY)) {
      event.preventDefault();
      const width = Math.max(1, area.getBoundingClientRect().width);
      const by = Math.abs(event.deltaX) > Math.abs(event.deltaY) ? event.deltaX : event.deltaY;
      target.change(pan(view, (by * (view[1] - view[0])) / width));
    }
  };
  area.addEventListener('pointerdown', down);
  addEventListener('pointermove', move);
  addEventListener('pointerup', up);
  addEventListener('pointercancel', up);
  area.addEventListener('wheel', wheel, { passive: false });
  return () => {
    area.removeEventListener('pointerdown', down);
    removeEventListener('pointermove', move);
    removeEventListener('pointerup', up);
    removeEventListener('pointercancel', up);
    area.removeEventListener('wheel', wheel);
  };
}
