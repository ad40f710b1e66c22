/** Reads simulated lines with means of the tests' own: nothing here is shared with the simulator or the server. */

/** Hex of the XOR of a text's bytes. */
export function xorHex(text: string): string {
  let sum = 0;
  for (let i = 0; i < text.length; i++) sum ^= text.charCodeAt(i);
  return sum.toString(16).toUpperCase().padStart(2, '0');
}

/** Complete lines of a raw text, without line ends. */
export function linesOf(text: string): string[] {
  return text.split(/\r?\n/).filter((line) => line !== '');
}

/** Fields of a named line whose checksum holds; null for notes and for damaged lines. */
export function namedFields(line: string): Record<string, number> | null {
  const star = line.length - 3;
  if (line[star] !== '*' || line[0] === '#' || xorHex(line.slice(0, star)) !== line.slice(star + 1)) return null;
  const fields: Record<string, number> = {};
  for (const field of line.slice(0, star).split(' ')) {
    const equals = field.indexOf('=');
    fields[field.slice(0, equals)] = Number(field.slice(equals + 1));
  }
  return fields;
}

export function readingsOf(text: string): Record<string, number>[] {
  return linesOf(text)
    .map(namedFields)
    .filter((fields) => fields !== null);
}

export function mean(values: readonly number[]): number {
  return values.reduce((sum, value) => sum + value, 0) / values.length;
}

export function standardDeviation(values: readonly number[]): number {
  const m = mean(values);
  return Math.sqrt(values.reduce((sum, value) => sum + (value - m) ** 2, 0) / (values.length - 1));
}

/** Amplitude of the swing of that frequency in evenly spaced values (one term of a discrete Fourier transform). */
export function amplitudeAt(values: readonly number[], cyclesPerValue: number): number {
  const m = mean(values);
  let re = 0;
  let im = 0;
  for (const [i, value] of values.entries()) {
    re += (value - m) * Math.cos(2 * Math.PI * cyclesPerValue * i);
    im += (value - m) * Math.sin(2 * Math.PI * cyclesPerValue * i);
  }
  return (2 * Math.hypot(re, im)) / values.length;
}
