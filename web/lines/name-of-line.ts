import type { OtherLineView } from '../../server/api/contract/lines.ts';

/** A line that has not said its name yet is called by its address. */
export function nameOfLine({ name, address }: Pick<OtherLineView, 'name' | 'address'>): string {
  return name || new URL(address).host;
}
