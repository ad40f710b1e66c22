/** What a field may be, before zones and axes are distinguished. */
export type Kind =
  | 'diameter'
  | 'temperature'
  | 'setpoint'
  | 'power'
  | 'fault'
  | 'speed'
  | 'length'
  | 'screw'
  | 'current'
  | 'pressure'
  | 'turns'
  | 'room'
  | 'humidity'
  | 'uptime'
  | 'number';

/** A name taken apart: "TempA" → temp, a; "zones.0.c" → zones, 0, c; "T1_set" → t, 1, set. */
export function tokensOf(name: string): readonly string[] {
  return (
    name
      .replaceAll('ß', 'ss')
      .replaceAll(/[øØ⌀]/g, 'dia')
      .normalize('NFKD')
      .replaceAll(/\p{M}/gu, '')
      .replaceAll(/(\p{Ll})(\p{Lu})/gu, '$1 $2')
      .replaceAll(/(\p{Lu})(\p{Lu}\p{Ll})/gu, '$1 $2')
      .toLowerCase()
      .match(/\p{L}+|\d+|[/@]/gu) ?? []
  );
}

/**
 * Parts of names that sketches use, in a few languages, and how much each speaks for a kind: 3 says it alone, 1 only supports
 * what the values say. Common practice, no source.
 */
const SPEAKS: Readonly<Record<Kind, Readonly<Record<string, number>>>> = {
  diameter: words(
    3,
    'dia diam diameter durchmesser diametre diametro dmr thickness dicke caliper dx dy',
    2,
    'd gauge width breite',
    1,
    'fil filament mess adc x y',
  ),
  temperature: words(
    3,
    'temp temps temperature temperatur temperatura tmp',
    2,
    't thermistor thermo ntc tc celsius',
    1,
    'zone zones z hot hotend nozzle die duse melt barrel heater heat feed c deg h e b bed th',
  ),
  setpoint: words(
    4,
    'set setpoint setpt sp target targ tgt soll sollwert goal consigne',
    3,
    '/',
    2,
    's',
    1,
    'ref want des desired',
  ),
  power: words(
    4,
    'pwm duty',
    3,
    'power pow leistung puissance',
    2,
    'p out output pct @',
    1,
    'heater heat drive percent q',
  ),
  fault: words(3, 'fault faults fehler err error', 1, 'flag flags f'),
  speed: words(
    3,
    'speed spd vel velocity geschwindigkeit vitesse feedrate mps',
    2,
    'v pull puller abzug',
    1,
    'rate haul',
  ),
  length: words(
    3,
    'len length lange laenge longueur metres meters meter metre',
    2,
    'dist distance total spooled wound',
    1,
    'l m pos',
  ),
  screw: words(4, 'rpm', 3, 'screw schnecke auger', 1, 'motor mot drehzahl extruder'),
  current: words(3, 'amp amps current strom ampere', 1, 'i ma load'),
  pressure: words(3, 'bar press pressure druck pression'),
  turns: words(3, 'turns turn windungen revs revolutions rotations umdrehungen', 1, 'winder spool rev'),
  room: words(4, 'ambient amb room raum umgebung env ta', 2, 'case board air luft'),
  humidity: words(3, 'rh hum humidity feuchte humidite'),
  uptime: words(3, 'ms millis uptime us micros', 2, 'time zeit ts timestamp tick ticks', 1, 'sec secs seconds t'),
  number: words(3, 'seq line nr count counter cnt idx frame sample', 2, 'n no', 1, 'i id'),
};

export const KINDS = Object.keys(SPEAKS) as Kind[];

const ZONE_LETTERS: Readonly<Partial<Record<Kind, RegExp>>> = {
  temperature: /^t[a-h]$/,
  setpoint: /^s[a-h]$/,
  power: /^p[a-h]$/,
};

/** How much the name speaks for the kind; 0 = not at all. Several parts count once each, the strongest most. */
export function nameScore(tokens: readonly string[], kind: Kind): number {
  // "TA", "SB": a letter for the kind, one for the zone.
  if (tokens.length === 1 && ZONE_LETTERS[kind]?.test(tokens[0] ?? '')) return 2;
  const weights = tokens.map((token) => SPEAKS[kind][token] ?? 0).sort((a, b) => b - a);
  const [strongest = 0, ...others] = weights;
  return strongest + others.reduce((sum, weight) => sum + weight, 0) / 4;
}

/** The number in a name that may count zones: the last one; null = none. */
export function indexOf(tokens: readonly string[]): number | null {
  const digits = tokens.filter((token) => /^\d{1,2}$/.test(token)).at(-1);
  return digits === undefined ? null : Number(digits);
}

/** Where on the barrel a name says that it is: 0 near the hopper … 1 the die; null = it does not say. */
export function placeOf(tokens: readonly string[]): number | null {
  for (const token of tokens) {
    if (/^(?:feed|hopper|inlet|einzug|rear|back|trichter)$/.test(token)) return 0;
    if (/^(?:mid|middle|barrel|melt|compression|mitte|zylinder)$/.test(token)) return 0.5;
    if (/^(?:die|nozzle|duse|duese|tip|front|hotend|out)$/.test(token)) return 1;
  }
  return null;
}

function words(...groups: readonly (number | string)[]): Readonly<Record<string, number>> {
  const found: Record<string, number> = {};
  for (let i = 0; i < groups.length; i += 2)
    for (const word of String(groups[i + 1]).split(' ')) found[word] = Number(groups[i]);
  return found;
}
