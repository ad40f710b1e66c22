import type { LotView } from '../../server/api/contract/runs-and-spools.ts';

/** "Grey supports: dried 8 h at 50 °C"; whatever of the two was said. */
export function lotText({ name, preparation }: LotView): string {
  return [name, preparation].filter((text) => text !== '').join(': ');
}
