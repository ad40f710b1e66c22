/** At 203 dpi, the usual resolution of label printers, a dot is 0.125 mm. */
const DOT_MM = 25.4 / 203.2;
/** A module of 0.375 mm. Common practice, no source. */
const DOTS_MIN = 3;
/** The quiet zone that ISO/IEC 18004 asks for, in modules on each side. */
export const QUIET_MODULES = 4;

/**
 * Side of a code on paper, mm: as many whole dots a module as fit, so that a 203 dpi printer draws all modules equally.
 * @param modules of the code with its quiet zone
 */
export function codeSideMm(modules: number, mostMm: number): number {
  return modules * DOT_MM * Math.max(DOTS_MIN, Math.floor(mostMm / (modules * DOT_MM)));
}
