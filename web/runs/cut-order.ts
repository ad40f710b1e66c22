import type { PlacedSection } from '../spool/section-order.ts';

/** The last metre wound comes off first. */
export function outerFirst(sections: readonly PlacedSection[]): PlacedSection[] {
  return [...sections].sort((a, b) => b.toSpoolMm - a.toSpoolMm);
}
