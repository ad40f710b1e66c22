/**
 * Whether lists and objects are nested in more than so many levels. The parser of JSON takes any number of levels, but what is
 * recursive fails on ten thousand.
 */
export function nestsDeeper(json: unknown, levels: number): boolean {
  if (typeof json !== 'object' || json === null) return false;
  return levels === 0 || Object.values(json).some((inner) => nestsDeeper(inner, levels - 1));
}
