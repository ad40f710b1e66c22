import { gaugeLengthMm, spoolPositionMm } from '../../server/strand/position.ts';
import type { StrandTrace } from '../../server/strand/strand-bins.ts';
import { CANVAS_FONT } from '../chart/colours.ts';
import { drawnThickness } from '../chart/diameter-scale.ts';
import { pattern } from '../chart/patterns.ts';
import { roundTicks } from '../chart/ticks.ts';
import { sectionTone } from '../format/names.ts';
import { countdownS } from '../format/times.ts';
import { calloutLeft, distanceOf } from './callouts.ts';
import type { PictureScene } from './picture-frame.ts';

/** How much deviations from nominal are exaggerated. */
const DEVIATION_GAIN = 4.5;

/** What an outline is made from. */
export interface OutlineScene {
  readonly limits: Pick<PictureScene['limits'], 'nominalMm' | 'toleranceMm' | 'strandPresentMm'>;
  readonly frame: Pick<PictureScene['frame'], 'left' | 'plotWidth' | 'strandPx'>;
  readonly spanMm: number;
}

interface Stretch {
  /** Outline of one unbroken piece: x and half thickness, CSS px, from the gauge on. */
  readonly x: number[];
  readonly half: number[];
}

/** The outline of the strand in unbroken pieces: the mean within tolerance, the extreme beyond it. */
export function outline(trace: StrandTrace, scene: OutlineScene): Stretch[] {
  const { limits, frame, spanMm } = scene;
  const pxPerM = (frame.plotWidth / spanMm) * 1000;
  const high = limits.nominalMm + limits.toleranceMm;
  const low = limits.nominalMm - limits.toleranceMm;
  const stretches: Stretch[] = [];
  let open: Stretch | null = null;
  for (let i = 0; i < trace.x.length; i += 1) {
    const min = trace.min[i];
    const max = trace.max[i];
    const mean = trace.mean[i];
    if (min == null || max == null || mean == null || max < limits.strandPresentMm) {
      open = null;
      continue;
    }
    if (open === null) {
      open = { x: [], half: [] };
      stretches.push(open);
    }
    const shown = max > high && max - high >= low - min ? max : min < low ? min : mean;
    open.x.push(frame.left + trace.x[i]! * pxPerM);
    open.half.push(drawnThickness(shown, limits.nominalMm, frame.strandPx, DEVIATION_GAIN) / 2);
  }
  return stretches;
}

/** Draws the band: gauge on the left, strand to scale in length, winder on the right. `ctx` is scaled to CSS px. */
export function paintBand(ctx: CanvasRenderingContext2D, trace: StrandTrace, scene: PictureScene, dpr: number): void {
  const { frame, colours, limits, spanMm } = scene;
  const mid = frame.laneHeight * frame.lanes + frame.strandPx * 1.25;
  const pxPerMm = frame.plotWidth / spanMm;
  const winderX = frame.left + Math.min(spanMm, limits.gaugeToWinderMm) * pxPerMm;
  ctx.clearRect(0, 0, frame.width, frame.bandHeight);

  // The path of the strand, visible where there is none.
  ctx.strokeStyle = colours['rule-2'];
  ctx.lineWidth = 1;
  ctx.setLineDash([2, 5]);
  line(ctx, frame.left, mid, frame.left + frame.plotWidth, mid);
  ctx.setLineDash([]);

  const body = new Path2D();
  const light = new Path2D();
  for (const { x, half } of outline(trace, scene)) {
    body.moveTo(x[0]!, mid - half[0]!);
    for (let i = 1; i < x.length; i += 1) body.lineTo(x[i]!, mid - half[i]!);
    for (let i = x.length - 1; i >= 0; i -= 1) body.lineTo(x[i]!, mid + half[i]!);
    body.closePath();
    light.moveTo(x[0]!, mid - half[0]! * 0.42);
    for (let i = 1; i < x.length; i += 1) light.lineTo(x[i]!, mid - half[i]! * 0.42);
  }
  const shade = ctx.createLinearGradient(0, mid - frame.strandPx / 2, 0, mid + frame.strandPx / 2);
  shade.addColorStop(0, colours.strand);
  shade.addColorStop(0.32, colours['strand-lit']);
  shade.addColorStop(1, colours.strand);
  ctx.fillStyle = shade;
  ctx.fill(body);

  paintTrouble(ctx, body, scene, mid, dpr);

  ctx.strokeStyle = colours['strand-lit'];
  ctx.globalAlpha = 0.8;
  ctx.lineWidth = Math.max(1, frame.strandPx * 0.07);
  ctx.lineJoin = 'bevel';
  ctx.stroke(light);
  ctx.globalAlpha = 1;

  if (winderX < frame.left + frame.plotWidth - 2) {
    // Beyond the winder the strand is on the spool, which is shown by its tone.
    ctx.globalAlpha = 0.55;
    ctx.globalCompositeOperation = 'source-atop';
    ctx.fillStyle = colours.paper;
    ctx.fillRect(
      winderX,
      mid - frame.strandPx * 1.25,
      frame.left + frame.plotWidth - winderX + 1,
      frame.strandPx * 2.5,
    );
    ctx.globalCompositeOperation = 'source-over';
    ctx.globalAlpha = 1;
  }
  paintMetreMarks(ctx, scene, mid);
  if (!scene.sections.some((section) => isOnTheWay(section, scene))) paintWay(ctx, scene, mid, winderX);
  paintGauge(ctx, scene, mid);
  paintWinder(ctx, scene, mid, winderX);
}

function paintTrouble(
  ctx: CanvasRenderingContext2D,
  body: Path2D,
  scene: PictureScene,
  mid: number,
  dpr: number,
): void {
  const { frame, colours, headMm, spanMm } = scene;
  const pxPerMm = frame.plotWidth / spanMm;
  for (const section of scene.sections) {
    if (section.verdict === 'good') continue;
    const right = frame.left + Math.min(headMm - section.fromGaugeMm, spanMm) * pxPerMm;
    const left = frame.left + Math.max(0, section.open ? 0 : headMm - section.toGaugeMm) * pxPerMm;
    if (right < frame.left || left > frame.left + frame.plotWidth) continue;
    const pad = Math.max(0, (7 - (right - left)) / 2);
    const discard = section.verdict === 'discard';
    const danger = sectionTone(section) === 'danger';
    const from = Math.max(frame.left, left - pad);
    const width = Math.max(1, Math.min(right + pad, frame.left + frame.plotWidth) - from);
    ctx.save();
    ctx.beginPath();
    ctx.rect(from, 0, width, frame.bandHeight);
    ctx.clip();
    ctx.fillStyle = danger ? colours.danger : colours.abnormal;
    ctx.fill(body);
    ctx.clip(body);
    ctx.fillStyle = pattern(discard ? 'hatch' : 'dots', danger ? 'rgba(255,255,255,.55)' : 'rgba(30,20,0,.75)', dpr);
    ctx.setTransform(1, 0, 0, 1, Math.round(((headMm * pxPerMm) % 7) * dpr), 0);
    ctx.fillRect(-20, 0, (frame.width + 40) * dpr, frame.bandHeight * dpr);
    ctx.restore();
    if (section.kind !== 'unknown') paintLeader(ctx, scene, section, mid);
  }
}

function paintLeader(
  ctx: CanvasRenderingContext2D,
  scene: PictureScene,
  section: PictureScene['sections'][number],
  mid: number,
): void {
  const { frame, colours, headMm, spanMm, limits } = scene;
  const distance = distanceOf(section, scene.strand, headMm);
  if (distance > Math.min(spanMm, limits.gaugeToWinderMm)) return;
  const mmPerPx = spanMm / frame.plotWidth;
  const x = frame.left + distance / mmPerPx;
  const boxLeft = frame.left + calloutLeft(distance, mmPerPx, frame.calloutWidth, frame.plotWidth);
  ctx.strokeStyle = sectionTone(section) === 'danger' ? colours['danger-ink'] : colours['abnormal-ink'];
  ctx.lineWidth = 1.5;
  const top = frame.laneHeight * frame.lanes - 6;
  line(ctx, x, Math.max(top, boxLeft > x ? top : 0), x, mid - frame.strandPx * 0.75);
}

/** Marks that travel with the strand, each with its future metre on the spool. */
function paintMetreMarks(ctx: CanvasRenderingContext2D, scene: PictureScene, mid: number): void {
  const { frame, colours, headMm, spanMm, strand } = scene;
  const pxPerMm = frame.plotWidth / spanMm;
  const at = (gaugeMm: number) => (strand === null ? gaugeMm : spoolPositionMm(gaugeMm, strand)) / 1000;
  const [from, to] = [at(headMm - spanMm), at(headMm)];
  const ticks = roundTicks(
    from,
    to,
    Math.max(4, Math.round(frame.plotWidth / (frame.fontPx * (frame.narrow ? 5.5 : 7.4)))),
  );
  const digits = ticks.length > 1 && ticks[1]! - ticks[0]! < 0.95 ? (ticks[1]! - ticks[0]! < 0.095 ? 2 : 1) : 0;
  const base = mid + frame.strandPx * 1.2;
  ctx.font = `${frame.fontPx}px ${CANVAS_FONT}`;
  ctx.textAlign = 'center';
  ctx.textBaseline = 'top';
  ctx.lineWidth = 1;
  // On the wall two rows of metres, without room to say what each counts, would only confuse.
  if (frame.brief && !frame.narrow) return;
  const labelled = strand !== null;
  for (const tick of ticks) {
    if (tick < 0 && strand !== null) continue;
    const x = frame.left + (headMm - (strand === null ? tick * 1000 : gaugeLengthMm(tick * 1000, strand))) * pxPerMm;
    ctx.strokeStyle = colours['ink-3'];
    line(ctx, x, mid + frame.strandPx * 0.85, x, base);
    if (!labelled) continue;
    const fade = Math.min(1, (x - frame.left - frame.fontPx / 2) / 18, (frame.left + frame.plotWidth - x) / 18);
    if (fade <= 0) continue;
    ctx.globalAlpha = fade;
    ctx.fillStyle = colours['ink-2'];
    ctx.fillText(tick.toFixed(digits), x, base + 3);
    ctx.globalAlpha = 1;
  }
  if (labelled) {
    ctx.textAlign = 'right';
    ctx.fillStyle = colours['ink-2'];
    ctx.fillText(frame.narrow ? 'spool m' : 'metre of the spool', frame.left - 12, base + 3, frame.left - 12);
  }
}

function isOnTheWay(section: PictureScene['sections'][number], scene: PictureScene): boolean {
  if (section.verdict === 'good' || section.kind === 'unknown') return false;
  const distance = distanceOf(section, scene.strand, scene.headMm);
  return distance <= Math.min(scene.spanMm, scene.limits.gaugeToWinderMm);
}

/** The distance to the winder as a dimension line, while no bad stretch is on the way. */
function paintWay(ctx: CanvasRenderingContext2D, scene: PictureScene, mid: number, winderX: number): void {
  const { frame, colours, limits } = scene;
  const y = mid - frame.strandPx * 1.25;
  if (winderX - frame.left < 60) return;
  ctx.font = `${frame.fontPx}px ${CANVAS_FONT}`;
  ctx.textAlign = 'center';
  ctx.textBaseline = 'middle';
  const metres = `${(limits.gaugeToWinderMm / 1000).toFixed(2)} m`;
  const s =
    scene.speedMmPerS > 0.05 && !scene.stale
      ? `, ${countdownS(limits.gaugeToWinderMm / scene.speedMmPerS)} s to the winder`
      : ' to the winder';
  const text = winderX - frame.left > frame.fontPx * 16 ? metres + s : '';
  const half = text === '' ? 0 : ctx.measureText(text).width / 2 + 10;
  const centre = (frame.left + winderX) / 2;
  const [from, to] = [frame.left + frame.strandPx * 0.5, winderX - 1];
  ctx.strokeStyle = ctx.fillStyle = colours['ink-2'];
  ctx.lineWidth = 1;
  line(ctx, from, y, centre - half, y);
  line(ctx, centre + half, y, to, y);
  for (const [x, side] of [
    [from, 1],
    [to, -1],
  ] as const) {
    ctx.beginPath();
    ctx.moveTo(x, y);
    ctx.lineTo(x + side * 9, y - 3);
    ctx.lineTo(x + side * 9, y + 3);
    ctx.fill();
  }
  ctx.fillText(text, centre, y);
}

/** The gauge: two jaws that touch the strand. */
function paintGauge(ctx: CanvasRenderingContext2D, scene: PictureScene, mid: number): void {
  const { frame, colours } = scene;
  const reach = frame.strandPx * 0.62;
  const size = frame.strandPx * 0.5;
  ctx.fillStyle = colours.ink;
  for (const side of [-1, 1]) {
    ctx.beginPath();
    ctx.moveTo(frame.left, mid + side * reach);
    ctx.lineTo(frame.left - size * 0.55, mid + side * (reach + size));
    ctx.lineTo(frame.left + size * 0.55, mid + side * (reach + size));
    ctx.fill();
  }
  ctx.font = `600 ${frame.fontPx}px ${CANVAS_FONT}`;
  ctx.textAlign = 'right';
  ctx.textBaseline = 'middle';
  ctx.fillText('gauge', frame.left - 12, mid, frame.left - 12);
}

/** The winder: the spool from the side, filled to its current state and turning with the strand. */
function paintWinder(ctx: CanvasRenderingContext2D, scene: PictureScene, mid: number, winderX: number): void {
  const { frame, colours, headMm } = scene;
  const right = frame.left + frame.plotWidth;
  const radius = Math.min(frame.right * 0.36, frame.strandPx * 1.15);
  const x = right + radius + (frame.narrow ? 8 : 16);
  if (winderX < right - 2) {
    ctx.strokeStyle = colours.ink;
    ctx.lineWidth = 1.5;
    ctx.setLineDash([4, 4]);
    line(ctx, winderX, mid - frame.strandPx * 1.1, winderX, mid + frame.strandPx * 1.1);
    ctx.setLineDash([]);
  }
  const core = radius * 0.42;
  const full = Math.sqrt(Math.min(1, scene.woundMm / 350_000));
  ctx.fillStyle = colours.strand;
  ctx.beginPath();
  ctx.arc(x, mid, core + (radius * 0.9 - core) * full, 0, 7);
  ctx.fill();
  ctx.fillStyle = colours.paper;
  ctx.beginPath();
  ctx.arc(x, mid, core, 0, 7);
  ctx.fill();
  ctx.strokeStyle = colours.ink;
  ctx.lineWidth = 1.5;
  for (const r of [radius, core]) {
    ctx.beginPath();
    ctx.arc(x, mid, r, 0, 7);
    ctx.stroke();
  }
  const turn = headMm / 220;
  ctx.lineWidth = 1;
  for (let k = 0; k < 3; k += 1) {
    const a = turn + (k * 2 * Math.PI) / 3;
    line(ctx, x, mid, x + Math.cos(a) * core, mid + Math.sin(a) * core);
  }
  if (!frame.narrow) {
    ctx.fillStyle = colours.ink;
    ctx.font = `600 ${frame.fontPx}px ${CANVAS_FONT}`;
    ctx.textAlign = 'center';
    ctx.textBaseline = 'top';
    ctx.fillText('winder', x, mid + radius + 6);
  }
}

function line(ctx: CanvasRenderingContext2D, x1: number, y1: number, x2: number, y2: number): void {
  ctx.beginPath();
  ctx.moveTo(x1, y1);
  ctx.lineTo(x2, y2);
  ctx.stroke();
}
