import { ROLES } from '../../server/reading/names.ts';
import { checked } from '../reading/intake-bench.ts';
import type { Chooser } from './chooser.ts';

/** Numbers at the edges of what lines, counters and doubles can hold, and what only looks like a number. */
const NUMBERS = [
  ...['0', '-0', '1', '-1', '255', '1023', '4095', '65535', '65536', '2147483648', '4294967295', '4294967296'],
  ...['9007199254740993', '1e308', '-1e308', '1e309', '1e-320', '1e+05', '1E5', '.5', '5.', '+.0', '00012', '-273.15'],
  ...['1.2.3', '1,75', '1.234,5', '1,234.5', '0x1F', '1_000', '١٢', 'nan', 'NaN', 'inf', '-inf', '-', '--', '', 'null'],
  ...['true', '12345678901234567890', '0.00000000000000000001', '1e', 'e5', '1e99999', `${'9'.repeat(60)}`, '1.75mm'],
];
const NAMES = [
  ...ROLES,
  ...['__proto__', 'constructor', 'toString', 'hasOwnProperty', 'd0', 't9', 'T1', 'D', 'Ø', '°C', 'µm', '0', '-1', ' '],
  ...['temp', 'Nozzle', 'diameter', 'speed', 'pwm', 'set', `${'x'.repeat(70)}`],
];
const SEPARATORS = [
  ' ',
  ',',
  ';',
  '\t',
  ', ',
  '  ',
  ':',
  '=',
  ' = ',
  '|',
  '/',
  '>',
  '\0',
  '\r',
  '"',
  '{',
  '}',
  '[',
  '*',
];
const NUMBER = /[-+]?\d+(?:[.,]\d+)?/g;
const NAME = /[A-Za-z_]\w*/g;
const SEPARATOR = /[\s,;:=|]+/g;

type Mutate = (line: string, choose: Chooser, other: string) => string;

const replaceOne = (line: string, pattern: RegExp, choose: Chooser, by: (found: string) => string): string => {
  const found = [...line.matchAll(pattern)];
  if (found.length === 0) return line;
  const { 0: text, index } = choose.oneOf(found);
  return line.slice(0, index) + by(text) + line.slice(index + text.length);
};
const cut = (line: string, choose: Chooser) => choose.below(line.length + 1);

/** Ways to change a line that keep most of its structure, so that they get past the first check. */
const MUTATIONS: readonly Mutate[] = [
  (line, choose) => replaceOne(line, NUMBER, choose, () => choose.oneOf(NUMBERS)),
  (line, choose) => replaceOne(line, NUMBER, choose, () => choose.oneOf(NUMBERS)),
  (line, choose) =>
    replaceOne(line, NUMBER, choose, (number) => String(Number(number) * 10 ** (choose.below(24) - 12))),
  (line, choose) => replaceOne(line, NAME, choose, () => choose.oneOf(NAMES)),
  (line, choose) => replaceOne(line, SEPARATOR, choose, () => choose.oneOf(SEPARATORS)),
  (line, choose) => line.replaceAll(choose.oneOf([' ', ',', ';', '\t', ':', '=', '.']), choose.oneOf(SEPARATORS)),
  // A stretch is lost, printed twice, or comes from another line.
  (line, choose) => {
    const at = cut(line, choose);
    return line.slice(0, at) + line.slice(at + 1 + choose.below(12));
  },
  (line, choose) => {
    const [from, to] = [cut(line, choose), cut(line, choose)].sort((a, b) => a - b) as [number, number];
    return line.slice(0, to) + line.slice(from);
  },
  (line, choose, other) => line.slice(0, cut(line, choose)) + other.slice(cut(other, choose)),
  (line, _choose, other) => line + other,
  (_line, _choose, other) => other,
  // Damage on the cable.
  (line, choose) => {
    const at = cut(line, choose);
    return (
      line.slice(0, at) + String.fromCharCode((line.charCodeAt(at) || 0) ^ (1 << choose.below(8))) + line.slice(at + 1)
    );
  },
  (line, choose) => Buffer.from(choose.bytes(1 + choose.below(8))).toString('latin1') + line,
  (line, choose) => line + Buffer.from(choose.bytes(1 + choose.below(8))).toString('latin1'),
  // Other forms.
  (line) => checked(line.replace(/\*[\dA-Fa-f]{2}$/, '')),
  (line) => `$${line}`,
  (line) => `# ${line}`,
  (line, choose) =>
    `${choose.oneOf(['12:30:01.5 ', '2026-03-14T19:00:00Z ', '[12345] ', 'I (123) tag: ', '> '])}${line}`,
  (line) => `{"a":{"b":[${line}]}}`,
  (line, choose) => `${choose.oneOf(['{"a":', '[', '{"', '((', '\x1b[31m'])}`.repeat(1 + choose.below(200)) + line,
  (line, choose) => line.repeat(1 + choose.below(30)),
  (line, choose) => line + choose.oneOf([' x', ' ', '9', '\t', ' a=1']).repeat(choose.below(300)),
  (line, choose) =>
    line +
    Array.from({ length: choose.below(40) }, (_, i) => ` ${choose.oneOf(NAMES)}${i}=${choose.oneOf(NUMBERS)}`).join(''),
];

/** Longer ones say nothing new: a line is too long from 512 bytes on. */
const LENGTH_MAX = 3000;

/** @param other another line, of the same or of another board */
export function mutated(line: string, choose: Chooser, other: string): string {
  let changed = line;
  for (let times = 1 + choose.below(3); times > 0; times--) {
    changed = choose.oneOf(MUTATIONS)(changed, choose, other).slice(0, LENGTH_MAX);
  }
  // Half of the lines with a checksum get a right one again, so that what they contain is read.
  return /\*[\dA-Fa-f]{2}$/.test(line) && choose.chance(0.5)
    ? checked(changed.replace(/\*[\dA-Fa-f]{2}$/, ''))
    : changed;
}

export const anyName = (choose: Chooser) => choose.oneOf(NAMES);
