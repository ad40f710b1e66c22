import { type Moment, momentAt } from './boards.ts';

/** A signal of which a line is printed when it has changed by `least`, or when it has not come for `everyS`. */
interface Change {
  readonly of: (m: Moment) => number;
  readonly places: number;
  readonly least: number;
  readonly everyS?: number;
  readonly line: (text: string) => string;
}

/** A board that looks at its signals so often, and prints a line for each that has changed. */
export interface ChangeBoard {
  readonly name: string;
  readonly hz: number;
  readonly banner?: readonly string[];
  readonly changes: readonly Change[];
  /** What has changed at a moment is printed as one line. */
  readonly isJoined?: boolean;
  /** How long it takes until it is understood; 20 by default. */
  readonly seconds?: number;
  /** Roles that must be proposed. */
  readonly roles: string;
}

const NEVER = Number.POSITIVE_INFINITY;
const fahrenheit = (c: number) => c * 1.8 + 32;
const comma = (text: string) => text.replace('.', ',');
const changes = (
  of: (m: Moment) => number,
  [places, least, everyS = NEVER]: readonly [number, number, number?],
  line: (text: string) => string,
): Change => ({ of, places, least, everyS, line });
const t = (zone: number) => (m: Moment) => m.t[zone - 1] ?? 0;
const set = (zone: number) => (m: Moment) => m.set[zone - 1] ?? 0;
const percent = (zone: number) => (m: Moment) => 100 * (m.p[zone - 1] ?? 0);

export const CHANGE_BOARDS: readonly ChangeBoard[] = [
  {
    name: 'free text, set-points every 10 s',
    hz: 5,
    roles: 'd t1 s1 p1 t2 s2 v',
    changes: [
      changes(
        ({ d }) => d,
        [3, 0.001],
        (x) => `Diameter: ${x} mm`,
      ),
      changes(t(1), [1, 0.3], (x) => `Zone 1: ${x} C`),
      changes(set(1), [0, 1, 10], (x) => `Set 1: ${x} C`),
      changes(percent(1), [0, 4], (x) => `Power 1: ${x} %`),
      changes(t(2), [1, 0.3], (x) => `Zone 2: ${x} C`),
      changes(set(2), [0, 1, 10], (x) => `Set 2: ${x} C`),
      changes(
        ({ v }) => v,
        [1, 0.3],
        (x) => `Puller: ${x} mm/s`,
      ),
    ],
  },
  {
    name: 'name=value, a set-point every 15 s',
    hz: 10,
    roles: 'd t1 s1 p1',
    changes: [
      changes(
        ({ d }) => d,
        [3, 0.001],
        (x) => `dia=${x}`,
      ),
      changes(t(1), [1, 0.5], (x) => `temp=${x}`),
      changes(set(1), [0, 1, 15], (x) => `target=${x}`),
      changes(
        (m) => 2.55 * percent(1)(m),
        [0, 10],
        (x) => `pwm=${x}`,
      ),
    ],
  },
  {
    name: 'German, a set-point only at the start',
    hz: 4,
    roles: 'd t1 p1 v',
    banner: ['Extruder bereit', 'Solltemperatur 200 °C'],
    changes: [
      changes(
        ({ d }) => d,
        [2, 0.01],
        (x) => `Durchmesser ${comma(x)} mm`,
      ),
      changes(t(1), [0, 1], (x) => `Temperatur ${x} °C`),
      changes(percent(1), [0, 5], (x) => `Leistung ${x} %`),
      changes(
        ({ v }) => v,
        [1, 0.2],
        (x) => `Abzug ${comma(x)} mm/s`,
      ),
    ],
  },
  {
    name: 'JSON with one value a line',
    hz: 8,
    roles: 'd t1 s1 p1 t2 s2 v',
    changes: [
      changes(
        ({ d }) => d,
        [3, 0.001],
        (x) => `{"diameter":${x}}`,
      ),
      changes(t(1), [1, 0.4], (x) => `{"temp1":${x}}`),
      changes(t(2), [1, 0.4], (x) => `{"temp2":${x}}`),
      changes(set(1), [0, 1, 12], (x) => `{"set1":${x}}`),
      changes(set(2), [0, 1, 12], (x) => `{"set2":${x}}`),
      changes(percent(1), [0, 6], (x) => `{"duty1":${x}}`),
      changes(
        ({ v }) => v,
        [1, 0.4],
        (x) => `{"speed":${x}}`,
      ),
    ],
  },
  {
    name: 'a line a second, whole degrees',
    hz: 1,
    roles: 'd t1 s1 v',
    changes: [
      changes(
        ({ d }) => d,
        [2, 0.01],
        (x) => `filament ${x} mm`,
      ),
      changes(t(1), [0, 1], (x) => `nozzle ${x} C`),
      changes(set(1), [0, 1, 10], (x) => `goal ${x} C`),
      changes(
        ({ v }) => v,
        [1, 0.2],
        (x) => `pull ${x} mm/s`,
      ),
    ],
  },
  {
    name: 'inches and Fahrenheit',
    hz: 5,
    roles: 'd t1 s1 v',
    changes: [
      changes(
        ({ d }) => d / 25.4,
        [4, 0.0001],
        (x) => `Filament dia ${x} in`,
      ),
      changes(
        (m) => fahrenheit(t(1)(m)),
        [0, 1],
        (x) => `Nozzle temp ${x} F`,
      ),
      changes(
        (m) => fahrenheit(set(1)(m)),
        [0, 1, 11],
        (x) => `Nozzle set ${x} F`,
      ),
      changes(
        ({ v }) => (v / 25.4) * 60,
        [1, 0.5],
        (x) => `Pull speed ${x} in/min`,
      ),
    ],
  },
  {
    name: 'name=value, the changed ones in one line, a power with %',
    hz: 5,
    isJoined: true,
    seconds: 30,
    roles: 'd t1 s1 p1 v',
    changes: [
      changes(
        ({ d }) => d,
        [2, 0.01],
        (x) => `D=${x}`,
      ),
      changes(t(1), [1, 0.3], (x) => `T=${x}`),
      changes(set(1), [0, 1, 8], (x) => `S=${x}`),
      changes(percent(1), [0, 5], (x) => `P=${x}%`),
      changes(
        ({ v }) => v,
        [1, 0.3],
        (x) => `V=${x}`,
      ),
    ],
  },
  {
    name: 'actual and set value of a zone together',
    hz: 5,
    roles: 'd t1 s1 t2 s2',
    changes: [
      changes(
        ({ d }) => d,
        [3, 0.001],
        (x) => `W ${x}mm`,
      ),
      changes(t(1), [1, 0.7], (x) => `H1 ${x}/200`),
      changes(t(2), [1, 0.7], (x) => `H2 ${x}/210`),
    ],
  },
];

export interface PrintedLine {
  readonly s: number;
  readonly bytes: Buffer;
}

/** What the board prints in its first `seconds`. */
export function linesOf(
  { hz, banner = [], changes: all, isJoined = false }: ChangeBoard,
  seconds: number,
): readonly PrintedLine[] {
  const printed = new Map<Change, { readonly value: number; readonly s: number }>();
  const lines = banner.map((text) => ({ s: 0, bytes: Buffer.from(`${text}\n`) }));
  for (let i = 0; i < seconds * hz; i++) {
    const s = i / hz;
    const moment = momentAt(s);
    const texts: string[] = [];
    for (const change of all) {
      const value = change.of(moment);
      const last = printed.get(change);
      const isDue =
        last === undefined || Math.abs(value - last.value) >= change.least || s - last.s >= (change.everyS ?? NEVER);
      if (!isDue) continue;
      printed.set(change, { value, s });
      texts.push(change.line(value.toFixed(change.places)));
    }
    const printedNow = isJoined && texts.length > 0 ? [texts.join(' ')] : texts;
    lines.push(...printedNow.map((text) => ({ s, bytes: Buffer.from(`${text}\n`) })));
  }
  return lines;
}
