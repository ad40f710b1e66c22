import type uPlot from 'uplot';
import { CANVAS_FONT, type Colours } from './colours.ts';
import { type DiameterLimits, type LimitKind, limitLines } from './diameter-scale.ts';

/** The limits have the colours of their alarms. */
const LOOKS: Record<
  LimitKind,
  { readonly line: keyof Colours; readonly label: keyof Colours; readonly isLimit: boolean }
> = {
  hotend: { line: 'danger-ink', label: 'danger-ink', isLimit: true },
  feedable: { line: 'abnormal-ink', label: 'abnormal-ink', isLimit: true },
  tolerance: { line: 'rule-2', label: 'ink-2', isLimit: false },
  nominal: { line: 'ink-3', label: 'ink', isLimit: false },
};

/** Draws the tolerance band, nominal and the two limits behind the trace. */
export function paintLimits(
  u: uPlot,
  limits: DiameterLimits,
  colours: Colours,
  fontPx: number,
  /** There is room for the names of the lines. */
  words: boolean,
): void {
  const { ctx, bbox } = u;
  const dpr = devicePixelRatio;
  const y = (mm: number) => u.valToPos(mm, 'y', true);
  ctx.save();
  ctx.fillStyle = colours.band;
  const top = y(limits.nominalMm + limits.toleranceMm);
  ctx.fillRect(bbox.left, top, bbox.width, y(limits.nominalMm - limits.toleranceMm) - top);
  // Where space is short, labels of the limits and nominal take precedence over the edges of the band.
  const labelled: number[] = [];
  const lines = limitLines(limits).sort((a, b) => Number(a.kind === 'tolerance') - Number(b.kind === 'tolerance'));
  for (const { mm, text, kind } of lines) {
    const at = y(mm);
    if (at < bbox.top - 1 || at > bbox.top + bbox.height + 1) continue;
    const { line, label, isLimit } = LOOKS[kind];
    ctx.strokeStyle = colours[line];
    ctx.lineWidth = (isLimit ? 1.25 : 1) * dpr;
    ctx.setLineDash(isLimit ? [7 * dpr, 4 * dpr] : []);
    ctx.beginPath();
    ctx.moveTo(bbox.left, at);
    ctx.lineTo(bbox.left + bbox.width, at);
    ctx.stroke();
    ctx.setLineDash([]);
    if (labelled.some((other) => Math.abs(other - at) < fontPx * 1.15 * dpr)) continue;
    labelled.push(at);
    ctx.textAlign = 'right';
    ctx.textBaseline = 'middle';
    ctx.fillStyle = colours[label];
    ctx.font = `${kind === 'nominal' ? 600 : 400} ${fontPx * dpr}px ${CANVAS_FONT}`;
    const number = kind === 'nominal' ? `${mm.toFixed(2)} mm` : mm.toFixed(2);
    // A wide font is drawn narrower rather than cut off.
    const room = bbox.left - 12 * dpr;
    ctx.fillText(words && kind !== 'tolerance' ? `${text} ${number}` : number, room, at, room);
  }
  ctx.restore();
}

/** Marks each stretch that is too thick for the picture with a triangle at the upper edge and its diameter. */
export function paintOffScale(u: uPlot, maxIdx: number, colours: Colours, fontPx: number): void {
  const { ctx, bbox } = u;
  const dpr = devicePixelRatio;
  const top = u.scales.y?.max ?? Number.POSITIVE_INFINITY;
  const values = u.data[maxIdx] ?? [];
  ctx.save();
  ctx.fillStyle = colours['danger-ink'];
  ctx.font = `${fontPx * dpr}px ${CANVAS_FONT}`;
  ctx.textBaseline = 'top';
  let free = bbox.left;
  for (let i = 0; i < values.length; i += 1) {
    if ((values[i] ?? 0) <= top) continue;
    const first = i;
    let most = values[i]!;
    // The neighbouring columns of the same stretch.
    for (let k = i; k < values.length && k <= i + 3; k += 1) {
      if ((values[k] ?? 0) <= top) continue;
      most = Math.max(most, values[k]!);
      i = k;
    }
    const x = u.valToPos((u.data[0][first]! + u.data[0][i]!) / 2, 'x', true);
    const size = 5 * dpr;
    ctx.beginPath();
    ctx.moveTo(x, bbox.top);
    ctx.lineTo(x - size, bbox.top + 1.6 * size);
    ctx.lineTo(x + size, bbox.top + 1.6 * size);
    ctx.fill();
    const text = `${most.toFixed(2)} mm`;
    const wide = ctx.measureText(text).width;
    const right = x + 2 * size + wide <= bbox.left + bbox.width;
    const left = right ? x + 2 * size : x - 2 * size - wide;
    if (left < free) continue;
    ctx.fillText(text, left, bbox.top);
    free = Math.max(x + size, left + wide) + size;
  }
  ctx.restore();
}

/** Redraws the trace above the hotend limit or below the smallest feedable diameter, heavier and in the colour of its alarm. */
export function paintBeyond(u: uPlot, maxIdx: number, minIdx: number, limits: DiameterLimits, colours: Colours): void {
  const { ctx, bbox } = u;
  const dpr = devicePixelRatio;
  const x = u.data[0];
  for (const [idx, mm, over, ink] of [
    [maxIdx, limits.hotendLimitMm, true, 'danger-ink'],
    [minIdx, limits.smallestFeedableMm, false, 'abnormal-ink'],
  ] as const) {
    const values = u.data[idx]!;
    if (!values.some((v) => v != null && (over ? v > mm : v < mm))) continue;
    const path = new Path2D();
    let down = false;
    for (let i = 0; i < x.length; i += 1) {
      const v = values[i];
      if (v == null) {
        down = false;
        continue;
      }
      const px = u.valToPos(x[i]!, 'x', true);
      const py = u.valToPos(v, 'y', true);
      if (down) path.lineTo(px, py);
      else path.moveTo(px, py);
      down = true;
    }
    const limitY = u.valToPos(mm, 'y', true);
    ctx.save();
    ctx.beginPath();
    if (over) ctx.rect(bbox.left, bbox.top, bbox.width, Math.max(0, limitY - bbox.top));
    else ctx.rect(bbox.left, limitY, bbox.width, Math.max(0, bbox.top + bbox.height - limitY));
    ctx.clip();
    ctx.strokeStyle = colours[ink];
    ctx.lineWidth = 3 * dpr;
    ctx.lineJoin = 'round';
    ctx.stroke(path);
    ctx.restore();
  }
}
