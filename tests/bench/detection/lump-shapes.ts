import type { Random } from '../../../simulator/model/random.ts';

/** Height of a lump, 0 to 1, at a share of its length, 0 to 1; zero at both ends. */
export type LumpShape = (share: number) => number;

const cosine: LumpShape = (x) => (1 - Math.cos(2 * Math.PI * x)) / 2;
const triangle: LumpShape = (x) => 1 - Math.abs(2 * x - 1);
const flat: LumpShape = (x) => Math.min(1, 4 * x, 4 * (1 - x));
/** Steep in front, long behind. */
const skew: LumpShape = (x) => (1 - Math.cos(Math.PI * (x < 0.25 ? x / 0.25 : (1 - x) / 0.75))) / 2;

/** A grain that was not drawn down: half an ellipse. */
const grain: LumpShape = (x) => Math.sqrt(Math.max(0, 1 - (2 * x - 1) ** 2));
const bell: LumpShape = (x) => (Math.exp(-((6 * x - 3) ** 2) / 2) - Math.exp(-4.5)) / (1 - Math.exp(-4.5));
/** Torn off: a slow rise that ends within a twelfth of the length. */
const torn: LumpShape = (x) => Math.min(x / 0.92, (1 - x) / 0.08);
/** Dragged: a fast rise, then a tail that dies away. */
const dragged: LumpShape = (x) =>
  x < 0.1 ? x / 0.1 : (Math.exp(-4 * (x - 0.1)) - Math.exp(-3.6)) / (1 - Math.exp(-3.6));
/** Two grains that stick together. */
const twin: LumpShape = (x) => Math.max(grain(Math.min(1, x / 0.55)), 0.85 * grain(Math.max(0, (x - 0.5) / 0.5)));
/** A knot with a rough back, no two alike. */
function knobbly(random: Random): LumpShape {
  const phases = Array.from({ length: 4 }, () => 2 * Math.PI * random.unit());
  const rough = (x: number) =>
    phases.reduce((sum, phase, k) => sum + Math.cos(2 * Math.PI * (k + 2) * x + phase), 0) / 4;
  return (x) => Math.sin(Math.PI * x) ** 0.7 * Math.min(1, 0.8 + 0.25 * rough(x));
}

/** Shapes like those that the detector's own tests use. */
const FAMILIAR: readonly LumpShape[] = [cosine, triangle, flat, skew];

/** Shapes that were not used in developing the detector; drawn for the held-out seeds only. */
const UNSEEN: readonly ((random: Random) => LumpShape)[] = [
  () => grain,
  () => bell,
  () => torn,
  () => dragged,
  () => twin,
  knobbly,
];

export function drawShape(heldOut: boolean, random: Random): LumpShape {
  if (!heldOut) return FAMILIAR[random.index(FAMILIAR.length)]!;
  const shape = UNSEEN[random.index(UNSEEN.length)]!(random);
  return random.chance(0.5) ? shape : (x) => shape(1 - x);
}

/** A stretch off tolerance: gentle ends, each a share of the whole. */
export function stretchShape(flankShare: number): LumpShape {
  return (x) => (1 - Math.cos(Math.PI * Math.min(1, x / flankShare, (1 - x) / flankShare))) / 2;
}
