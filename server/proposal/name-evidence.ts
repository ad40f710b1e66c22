import { asCompared, EXCLUDING_WORDS, type Kind, NON_SIGNAL_WORDS, WORD_WEIGHTS } from './name-words.ts';

/** Units at the end of a name, behind a sign or as the last part of a name in camel case. */
const UNIT_AT_END =
  /(?:[\s_.-]*[[(]|[\s_.-]+)(mm[_ /]?p?s|mm[_ ]per[_ ]s|(?:m|cm|in)[_ /]s|(?:m|mm|in|ft)[_ /]min|mm|um|µm|inch|in|mils?|thou|(?:deg ?|°)?[CFK]|c|f|pct|percent|%|ms|s|rpm|upm|fpm|FPM|ipm|IPM|bar|m|cm)[)\]]?$|(?<=\p{Ll})(MmPerS|Mm|Um|Pct|Percent|Ms|[CFK])$/u;

/** The name without the unit that it ends in, and that unit: "dia_mm", "hotendC", "Speed (mm/s)"; '' = none. */
export function unitInName(name: string): { readonly bare: string; readonly unit: string } {
  const found = UNIT_AT_END.exec(name);
  const bare = name.slice(0, found?.index ?? 0);
  if (found === null || !/\p{L}/u.test(bare)) return { bare: name, unit: '' };
  const printed = found[1] ?? (found[2] ?? '').replace(/^.{2,}$/, (unit) => unit.toLowerCase());
  const unit = printed
    .replace(/^(?:mm[_ /]?p?s|mm[_ ]per[_ ]s|mmpers)$/, 'mm/s')
    .replace(/^(m|cm|in)[_ ]s$/, '$1/s')
    .replace(/[_ ]min$/, '/min')
    .replace(/^fpm$/i, 'ft/min')
    .replace(/^ipm$/i, 'in/min')
    .replace(/^(?:pct|percent)$/, '%');
  return { bare, unit };
}

const SERIES = /^(.*\p{L}[\s_.-])([a-h])$/iu;

/** The place in its series of a name like "temp_b", which has no unit there: letters count from a; 0 = it is in none. */
export function placeInSeries(name: string, fields: readonly { name: string }[]): number {
  const [, stem, letter] = SERIES.exec(name) ?? [];
  if (stem === undefined || letter === undefined) return 0;
  const letters = fields.flatMap((field) => {
    const [, other, one = ''] = SERIES.exec(field.name) ?? [];
    return other === stem ? one.toLowerCase() : [];
  });
  return letters.length > 1 && letters.includes('a') ? letter.toLowerCase().charCodeAt(0) - 96 : 0;
}

/** The parts of a name among others: the letter of a series is a number. */
export function tokensIn(name: string, fields: readonly { name: string }[]): readonly string[] {
  const place = placeInSeries(name, fields);
  return place === 0 ? tokensOf(name) : [...tokensOf(name.slice(0, -2)), String(place)];
}

export const KINDS = Object.keys(WORD_WEIGHTS) as Kind[];

/** A name taken apart: "TempA" → temp, a; "zones.0.c" → zones, 0, c; "nozset" → noz, set. Without its unit. */
export function tokensOf(name: string): readonly string[] {
  return (
    asCompared(unitInName(name).bare.replaceAll('ß', 'ss').replaceAll('ł', 'l').replaceAll(/[øØ⌀]/g, 'dia'))
      .replaceAll(/(\p{Ll})(\p{Lu})/gu, '$1 $2')
      .replaceAll(/(\p{Lu})(\p{Lu}\p{Ll})/gu, '$1 $2')
      .toLowerCase()
      .match(/\p{L}+|\d+|[@±]|\/(?= ?\d*$)/gu) ?? []
  ).flatMap(split);
}

const STRONG = 3;
const PART_MIN = 3;
const weightOf = (token: string) => Math.max(...KINDS.map((kind) => WORD_WEIGHTS[kind][token] ?? 0));

/** Two words written as one, of which one says what kind it is: "nozset", "tempdie". */
function split(token: string): readonly string[] {
  if (token.length < 2 * PART_MIN || weightOf(token) > 0 || NON_SIGNAL_WORDS.has(token)) return [token];
  for (let at = PART_MIN; at <= token.length - PART_MIN; at++) {
    const parts = [token.slice(0, at), token.slice(at)];
    if (parts.some((part) => weightOf(part) >= STRONG)) return parts;
  }
  return [token];
}

const ZONE_LETTERS: Readonly<Partial<Record<Kind, RegExp>>> = {
  temperature: /^t[a-h]$/,
  setpoint: /^s[a-h]$/,
  power: /^p[a-h]$/,
};

/** The name is that of a limit, a spread, a fan …: of nothing that is watched. A chip's name is none ("MAX6675"). */
export function namesNoSignal(tokens: readonly string[]): boolean {
  return tokens.some((token, i) => NON_SIGNAL_WORDS.has(token) && !/^\d{4,}$/.test(tokens[i + 1] ?? ''));
}

/** The turns of a puller are no screw speed, whatever unit they have. */
export function rulesOut(tokens: readonly string[], kind: Kind): boolean {
  return tokens.some((token) => EXCLUDING_WORDS[kind]?.has(token));
}

/** How much the name speaks for the kind; 0 = not at all. Several parts count once each, the strongest most. */
export function nameScore(tokens: readonly string[], kind: Kind): number {
  // "TA", "SB": a letter for the kind, one for the zone.
  if (tokens.length === 1 && ZONE_LETTERS[kind]?.test(tokens[0] ?? '')) return 2;
  const weights = tokens.map((token) => WORD_WEIGHTS[kind][token] ?? 0).sort((a, b) => b - a);
  const [strongest = 0, ...others] = weights;
  return strongest + others.reduce((sum, weight) => sum + weight, 0) / 4;
}

/** The number in a name that may count zones: the last one; null = none. */
export function indexOf(tokens: readonly string[]): number | null {
  const digits = tokens.filter((token) => /^\d{1,2}$/.test(token)).at(-1);
  return digits === undefined ? null : Number(digits);
}

/** The letter in a name that may count zones: the last one; null = none. */
export function letterOf(tokens: readonly string[]): string | null {
  return tokens.filter((token) => /^[a-h]$/.test(token)).at(-1) ?? null;
}

/** Where on the barrel a name says that it is: 0 near the hopper … 1 the die; null = it does not say. */
export function placeOf(tokens: readonly string[]): number | null {
  for (const token of tokens) {
    if (/^(?:feed|hopper|inlet|rear|back|einzug|trichter|tolva|tramoggia|tremie)$/.test(token)) return 0;
    if (/^(?:mid|middle|barrel|melt|compression|mitte|zylinder|cuerpo|corps|corpo|cilindro|cilinder)$/.test(token))
      return 0.5;
    if (
      /^(?:die|nozzle|noz|tip|front|hotend|duse|duese|boquilla|buse|filiere|ugello|bico|mondstuk|dysza|tryska|munstycke|сопло)$/.test(
        token,
      )
    )
      return 1;
  }
  return null;
}
