import type { WindowView } from '../../server/api/contract/runs-and-spools.ts';

/**
 * Smallest and largest diameter of each column as one zigzag, one unit of x per column. A gap stays a gap.
 * @param bridged so many empty columns between two readings are no gap: columns may be narrower than readings are apart
 */
export function tracePath({ signals }: Pick<WindowView, 'signals'>, y: (mm: number) => number, bridged = 0): string {
  const { d } = signals;
  let path = '';
  let isOpen = false;
  let empty = 0;
  for (let i = 0; i < (d?.min.length ?? 0); i++) {
    const [min, max] = [d?.min[i] ?? null, d?.max[i] ?? null];
    if (min === null || max === null) {
      empty += 1;
      if (empty > bridged) isOpen = false;
      continue;
    }
    empty = 0;
    path += `${isOpen ? 'L' : 'M'}${i + 0.5} ${y(max).toFixed(1)}V${y(min).toFixed(1)}`;
    isOpen = true;
  }
  return path;
}
