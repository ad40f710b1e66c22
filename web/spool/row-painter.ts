import type { Colours } from '../chart/colours.ts';
import { type DiameterLimits, diameterRange } from '../chart/diameter-scale.ts';
import type { RowColumns } from './ribbon-plan.ts';

/** Draws the trace of a row: nominal as the base line, the diameter as a fine line around it. @param row null = not fetched yet */
export function paintRow(
  canvas: HTMLCanvasElement,
  row: RowColumns | null,
  share: number,
  limits: DiameterLimits,
  colours: Colours,
): void {
  const dpr = devicePixelRatio;
  const [w, h] = [Math.round(canvas.clientWidth * dpr), Math.round(canvas.clientHeight * dpr)];
  if (canvas.width !== w) canvas.width = w;
  if (canvas.height !== h) canvas.height = h;
  const ctx = canvas.getContext('2d');
  if (!ctx || w === 0) return;
  ctx.clearRect(0, 0, w, h);
  if (row === null) return;
  const [low, high] = diameterRange(limits, null);
  const y = (mm: number) => Math.min(h - dpr, Math.max(dpr, h - ((mm - low) / (high - low)) * h));
  const nominal = Math.round(y(limits.nominalMm)) + 0.5;
  ctx.strokeStyle = colours.rule;
  ctx.lineWidth = dpr;
  ctx.beginPath();
  ctx.moveTo(0, nominal);
  ctx.lineTo(w * share, nominal);
  ctx.stroke();

  const n = Math.max(1, row.min.length);
  const calm = new Path2D();
  const thick = new Path2D();
  const thin = new Path2D();
  let down = false;
  let lastFilled = -2;
  // Strand beyond the outer end has passed the gauge but is not on the spool yet.
  const onSpool = Math.ceil(row.min.length * share);
  for (let i = 0; i < onSpool; i += 1) {
    const [min, max] = [row.min[i], row.max[i]];
    if (min == null || max == null) {
      // One or two empty columns only mean a fast strand; more are a gap.
      if (i - lastFilled > 3) down = false;
      continue;
    }
    lastFilled = i;
    const x = ((i + 0.5) / n) * w;
    const [top, bottom] = [y(max), y(min)];
    if (down) calm.lineTo(x, top);
    else calm.moveTo(x, top);
    calm.lineTo(x, bottom + 0.01);
    down = true;
    const beyond = max > limits.hotendLimitMm ? thick : min < limits.smallestFeedableMm ? thin : null;
    beyond?.moveTo(x, top);
    beyond?.lineTo(x, bottom + 0.01);
  }
  ctx.lineJoin = 'round';
  ctx.lineWidth = 1.1 * dpr;
  ctx.strokeStyle = colours.ink;
  ctx.stroke(calm);
  ctx.lineWidth = 2.6 * dpr;
  ctx.lineCap = 'round';
  ctx.strokeStyle = colours['abnormal-ink'];
  ctx.stroke(thin);
  ctx.strokeStyle = colours['danger-ink'];
  ctx.stroke(thick);
}
