/** Numbers as the page shows them, with the digits that the gauge can justify. */

const MINUS = '\u2212';
const NBSP = '\u00a0';
const NARROW = '\u202f';

/**
 * Groups are separated by a narrow space, as in SI, because a comma is a decimal point to half of the readers. Without Intl,
 * whose first use takes longer than the rest of a page.
 */
function fixed(value: number, digits: number): string {
  if (!Number.isFinite(value)) return value > 0 ? '∞' : Number.isNaN(value) ? 'NaN' : `${MINUS}∞`;
  const [whole = '', fraction] = Math.abs(value).toFixed(digits).split('.');
  const grouped = whole.length > 4 ? whole.replace(/\B(?=(\d{3})+$)/g, NARROW) : whole;
  const isZero = /^0*$/.test(whole + (fraction ?? ''));
  return `${value < 0 && !isZero ? MINUS : ''}${grouped}${fraction === undefined ? '' : `.${fraction}`}`;
}

/** A diameter in mm with thousandths, without the unit. */
export function diameter(mm: number | null): string {
  return mm === null ? '–' : fixed(mm, 3);
}

/** A length of strand from mm: "8.0 mm", "12.34 m". */
export function length(mm: number | null): string {
  if (mm === null) return '–';
  const size = Math.abs(mm);
  if (size < 100) return `${fixed(mm, size < 10 ? 1 : 0)}${NBSP}mm`;
  return `${metres(mm)}${NBSP}m`;
}

/** Metres from mm, without the unit. */
export function metres(mm: number, digits = 2): string {
  return fixed(mm / 1000, digits);
}

/** Metres from mm with their unit, which stays on the same line. */
export function metresText(mm: number, digits = 2): string {
  return `${metres(mm, digits)}${NBSP}m`;
}

/** A stretch of the spool, with enough digits to tell its ends apart: "7.46 to 7.95 m", "at 5.431 m". */
export function stretchText(fromMm: number, toMm: number): string {
  const from = Math.max(0, fromMm);
  const digits = Math.abs(toMm - from) < 20 ? 3 : 2;
  const [first, last] = [metres(from, digits), metres(toMm, digits)];
  return first === last ? `at ${first}${NBSP}m` : `${first} to ${last}${NBSP}m`;
}

export function temperature(c: number | null, digits = 1): string {
  return c === null ? '–' : fixed(c, digits);
}

export function speed(mmPerS: number | null): string {
  return mmPerS === null ? '–' : fixed(mmPerS, 1);
}

export function percent(fraction: number | null): string {
  if (fraction === null || !Number.isFinite(fraction)) return '–';
  const per = fraction * 100;
  const near = (per > 99 && per < 100) || (Math.abs(per) < 10 && per !== 0);
  // Never round up to 100 %.
  if (per < 100 && per >= 99.95) return `>${NARROW}99.9${NARROW}%`;
  return `${fixed(per, near ? 1 : 0)}${NARROW}%`;
}

export function grams(g: number): string {
  return gramsApart(g).join(NBSP);
}

/** A length from mm with its uncertainty, in metres: "118.3 ± 2.4 m". The uncertainty decides the digits. */
export function metresWithError(mm: number, uncertaintyMm: number): string {
  if (!(uncertaintyMm > 0)) return `${metres(mm)}${NBSP}m`;
  const digits = uncertaintyMm >= 100 ? 1 : 2;
  return `${metres(mm, digits)}${NBSP}±${NBSP}${metres(Math.max(uncertaintyMm, 1000 * 10 ** -digits), digits)}${NBSP}m`;
}

/** A mass with its uncertainty: "353 ± 15 g". */
export function gramsWithError(g: number, uncertaintyG: number): string {
  if (!(uncertaintyG > 0)) return grams(g);
  if (Math.abs(g) >= 1000)
    return `${fixed(g / 1000, 2)}${NBSP}±${NBSP}${fixed(Math.max(0.01, uncertaintyG / 1000), 2)}${NBSP}kg`;
  const digits = uncertaintyG < 0.5 ? 1 : 0;
  return `${fixed(g, digits)}${NBSP}±${NBSP}${fixed(Math.max(10 ** -digits, uncertaintyG), digits)}${NBSP}g`;
}

/** The number and its unit, for showing them in different sizes. */
export function gramsApart(g: number): [number: string, unit: string] {
  return Math.abs(g) >= 1000 ? [fixed(g / 1000, 2), 'kg'] : [fixed(g, g < 10 ? 1 : 0), 'g'];
}

/** The size of a file: "12 kB", "4.5 MB". */
export function megabytes(bytes: number): string {
  if (bytes < 1e6) return `${Math.max(1, Math.round(bytes / 1e3))} kB`;
  return bytes >= 1e9 ? `${(bytes / 1e9).toFixed(1)} GB` : `${(bytes / 1e6).toFixed(bytes < 1e7 ? 1 : 0)} MB`;
}

export function count(n: number): string {
  return fixed(n, 0);
}

/** "1 blob", "3 blobs". */
export function counted(n: number, one: string, many = `${one}s`): string {
  return `${count(n)} ${n === 1 ? one : many}`;
}

/** Keeps numbers and their units on the same line, "spool 3", and "set-point" with its hyphen. */
export function unbroken(sentence: string): string {
  const whole = sentence.replaceAll('set-point', 'set\u2011point');
  return whole
    .replace(/(\d) (?=(?:µm|mm|cm|m|kg|g|s|min|h|°C|K|%)(?![\p{L}\d]))/gu, `$1${NBSP}`)
    .replace(/\b(spool|run|coil|zone) (?=\d)/gi, `$1${NBSP}`);
}

const TYPED = /^[+-]?(\d+\.?\d*|\.\d+)(e[+-]?\d+)?$/i;

/**
 * A number as a user types it or copies it from the page: with comma or point, and the page's spaces between thousands. A
 * text with two of them is ambiguous and not a number. null = not a number.
 */
export function parseNumber(text: string): number | null {
  const tidy = text.trim().replace(MINUS, '-').replace(',', '.').replaceAll(NARROW, '').replaceAll(NBSP, '');
  const value = TYPED.test(tidy) ? Number(tidy) : Number.NaN;
  return Number.isFinite(value) ? value : null;
}
