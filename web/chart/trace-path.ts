import type { WindowView } from '../../server/api/contract/runs-and-spools.ts';

/** Smallest and largest diameter of each column as one zigzag, one unit of x per column. A gap stays a gap. */
export function tracePath({ signals }: Pick<WindowView, 'signals'>, y: (mm: number) => number): string {
  const { d } = signals;
  let path = '';
  let isOpen = false;
  for (let i = 0; i < (d?.min.length ?? 0); i++) {
    const [min, max] = [d?.min[i] ?? null, d?.max[i] ?? null];
    if (min === null || max === null) {
      isOpen = false;
      continue;
    }
    path += `${isOpen ? 'L' : 'M'}${i + 0.5} ${y(max).toFixed(1)}V${y(min).toFixed(1)}`;
    isOpen = true;
  }
  return path;
}
