import { isRole, ROLES, type Role, unitOf } from '../../server/reading/names.ts';

const WORDS: Record<string, string> = {
  ms: 'device clock',
  us: 'device clock',
  n: 'line number',
  d: 'diameter',
  dx: 'diameter, first axis',
  dy: 'diameter, second axis',
  v: 'strand speed',
  len: 'length counter',
  rpm: 'screw speed',
  amp: 'motor current',
  bar: 'melt pressure',
  turns: 'winder turns',
  ta: 'room temperature',
  rh: 'relative humidity',
};
const ZONE_TEXT: Record<string, string> = {
  t: 'temperature',
  s: 'set-point',
  p: 'heater power, 0 to 1',
  f: 'sensor faults',
};

/** The name of a role, with its unit: "diameter, mm", "temperature of zone 1, °C". */
export function roleText(role: Role): string {
  const unit = unitOf(role);
  const zone = ZONE_TEXT[role[0] ?? ''];
  const text = WORDS[role] ?? `${zone ?? role} of zone ${role.slice(1)}`;
  return unit === '' ? text : `${text}, ${unit}`;
}

/** Every role with its name, the most common first. */
export const ROLE_CHOICES: readonly (readonly [string, string])[] = [...ROLES]
  .sort((a, b) => Number(isBookkeeping(a)) - Number(isBookkeeping(b)))
  .map((role) => [role, `${role} – ${roleText(role)}`]);

function isBookkeeping(role: Role): boolean {
  return role === 'ms' || role === 'us' || role === 'n';
}

export interface Mapping {
  readonly name: string;
  readonly role: string;
  /** null while the text is not a number. */
  readonly factor: number | null;
  readonly offset: number | null;
}

/** Parts of names that sketches use, and their usual meaning (common practice, no source). */
const USUAL: readonly (readonly [RegExp, string])[] = [
  [/targ|set|soll|sp$/i, 's1'],
  [/temp|^t/i, 't1'],
  [/speed|vel/i, 'v'],
  [/len|dist/i, 'len'],
  [/rpm|screw/i, 'rpm'],
];

/** A suggested mapping for a name in the reading line. The user must check it. */
export function guessedMapping(name: string, raw: number, taken: readonly string[]): Mapping {
  const guess = USUAL.find(([pattern]) => pattern.test(name))?.[1] ?? 'd';
  const role = taken.includes(guess) ? (nextFree(guess, taken) ?? 'd') : guess;
  // A usual strand in micrometres: no strand is a metre thick.
  const factor = role === 'd' && raw > 500 && raw < 10_000 ? 0.001 : 1;
  return { name, role, factor, offset: 0 };
}

function nextFree(role: string, taken: readonly string[]): string | undefined {
  const kind = role.charAt(0);
  return [1, 2, 3, 4, 5, 6, 7, 8].map((zone) => `${kind}${zone}`).find((one) => isRole(one) && !taken.includes(one));
}
