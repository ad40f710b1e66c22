import { checked } from '../reading/intake-bench.ts';

/** What the line does at a time, in the units of the reading-line contract. */
export interface Truth {
  readonly d: number;
  readonly t1: number;
  readonly s1: number;
  readonly t2: number;
  readonly s2: number;
  readonly p1: number;
  /** mm/s */
  readonly v: number;
  /** mm */
  readonly len: number;
}

export function truthAt(s: number): Truth {
  return {
    d: 1.752 + 0.012 * Math.sin(1.3 * s),
    t1: 185 + 0.6 * Math.sin(0.9 * s),
    s1: 185,
    t2: 198 + 0.8 * Math.sin(0.7 * s + 1),
    s2: 198,
    p1: 0.45 + 0.3 * Math.sin(0.5 * s),
    v: 38.2 + 0.2 * Math.sin(0.4 * s),
    len: 38.2 * s,
  };
}

/** A sketch as a maker may have written it: what it prints at a time, and what must be understood of it. */
export interface Sketch {
  readonly name: string;
  readonly linesPerS: number;
  /** All that it prints for cycle `i` at `s` seconds, with line ends. */
  print(s: number, i: number): string | Uint8Array;
  /** Roles that must come out right, and by how much they may be off. */
  readonly understood: Readonly<Partial<Record<keyof Truth | 'dx' | 'dy', number>>>;
  /** What it does not send, and a user has to give. */
  readonly asks: readonly ('speed' | 'setpoints' | 'pins')[];
}

const f = (value: number, places: number) => value.toFixed(places);
const fahrenheit = (c: number) => c * 1.8 + 32;
const comma = (text: string) => text.replaceAll('.', ',');

/** Twelve sketches of different kinds; the scenario and all names are our own. */
export const SKETCHES: readonly Sketch[] = [
  {
    name: 'own names',
    linesPerS: 10,
    print: (s) => {
      const { d, t1, p1, v, s1 } = truthAt(s);
      return `D:${f(d, 3)} TempA:${f(t1, 1)} SetA:${f(s1, 0)} pwm:${Math.round(p1 * 255)} pull:${f(v, 1)}\n`;
    },
    understood: { d: 0.002, t1: 0.2, s1: 0.01, p1: 0.01, v: 0.2 },
    asks: [],
  },
  {
    name: 'columns without header',
    linesPerS: 10,
    print: (s) => {
      const { d, t1, s1, v } = truthAt(s);
      return `${f(d, 3)},${f(t1, 1)},${f(s1, 0)},${f(v, 1)}\r\n`;
    },
    understood: { d: 0.002, t1: 0.2, s1: 0.01, v: 0.2 },
    asks: [],
  },
  {
    name: 'columns, header after a while, decimal commas',
    linesPerS: 5,
    print: (s, i) => {
      const { d, t1, s1, v } = truthAt(s);
      const header = i === 7 ? 'dia_mm;temp_c;set_c;speed_mm_s\n' : '';
      return `${header}${comma(`${f(d, 3)};${f(t1, 1)};${f(s1, 1)};${f(v, 1)}`)}\n`;
    },
    understood: { d: 0.002, t1: 0.2, s1: 0.01, v: 0.2 },
    asks: [],
  },
  {
    name: 'nested JSON',
    linesPerS: 10,
    print: (s) => {
      const { d, t1, s1, t2, s2, p1, v } = truthAt(s);
      return `{"gauge":{"d":${f(d, 3)},"ok":true},"zones":[{"c":${f(t1, 1)},"set":${s1},"duty":${f(p1, 2)}},{"c":${f(t2, 1)},"set":${s2},"duty":0.50}],"puller":{"speed":${f(v, 1)}},"state":"wind"}\n`;
    },
    understood: { d: 0.002, t1: 0.2, s1: 0.01, t2: 0.2, s2: 0.01, p1: 0.01, v: 0.2 },
    asks: [],
  },
  {
    name: 'prose in inches and Fahrenheit',
    linesPerS: 4,
    print: (s) => {
      const { d, t1, s1 } = truthAt(s);
      return `Dia: ${f(d / 25.4, 4)} in  T: ${f(fahrenheit(t1), 1)} F  Target: ${f(fahrenheit(s1), 0)} F\n`;
    },
    understood: { d: 0.004, t1: 0.3, s1: 0.3 },
    asks: ['speed'],
  },
  {
    name: 'raw counts of the gauge',
    linesPerS: 20,
    print: (s) => {
      const { d, t1, s1, v } = truthAt(s);
      return `adc ${Math.round((d - 0.2) / 0.002)} temp ${f(t1, 1)} set ${s1} speed ${f(v, 1)}\n`;
    },
    understood: { t1: 0.2, s1: 0.01, v: 0.2 },
    asks: ['pins'],
  },
  {
    name: 'units that touch the numbers',
    linesPerS: 10,
    print: (s) => {
      const { d, t1, s1, len } = truthAt(s);
      return `T=${f(fahrenheit(t1), 1)}F S=${f(fahrenheit(s1), 0)}F D=${f(d, 3)}mm L=${f(len / 1000, 4)}m\n`;
    },
    understood: { d: 0.002, t1: 0.2, s1: 0.3, len: 0.2 },
    asks: [],
  },
  {
    name: 'one value per line',
    linesPerS: 5,
    print: (s) => {
      const { d, t1, s1, v } = truthAt(s);
      return `Diameter: ${f(d, 3)} mm\nNozzle temp: ${f(t1, 1)} C\nNozzle target: ${f(s1, 0)} C\nPuller: ${f((v * 60) / 1000, 3)} m/min\n\n`;
    },
    understood: { d: 0.002, t1: 0.2, s1: 0.01, v: 0.2 },
    asks: [],
  },
  {
    name: 'comma sentence with a checksum',
    linesPerS: 10,
    print: (s) => {
      const { d, t1, s1, v } = truthAt(s);
      return `$${checked(`FIL,${f(d, 3)},${f(t1, 1)},${f(s1, 0)},${f(v, 1)}`)}\r\n`;
    },
    understood: { d: 0.002, t1: 0.2, s1: 0.01, v: 0.2 },
    asks: [],
  },
  {
    name: 'ISO time stamps and two axes',
    linesPerS: 10,
    print: (s) => {
      const { d, t1, s1, v } = truthAt(s);
      const stamp = new Date(Date.UTC(2026, 4, 2, 19) + s * 1000).toISOString();
      return `${stamp} diaX=${f(d + 0.008, 3)} diaY=${f(d - 0.008, 3)} hot=${f(t1, 1)} soll=${f(s1, 0)} speed=${f(v, 1)}\n`;
    },
    understood: { d: 0.002, dx: 0.01, dy: 0.01, t1: 0.2, s1: 0.01, v: 0.2 },
    asks: [],
  },
  {
    name: 'German in Latin-1',
    linesPerS: 5,
    print: (s) => {
      const { d, t1, s1, v } = truthAt(s);
      const line = `Düse ${f(t1, 1)} °C  Soll ${f(s1, 1)} °C  Durchmesser ${f(d, 3)} mm  Abzug ${f(v, 1)} mm/s\n`;
      return Buffer.from(comma(line), 'latin1');
    },
    understood: { d: 0.002, t1: 0.2, s1: 0.01, v: 0.2 },
    asks: [],
  },
  {
    name: 'slashes and signs, micrometres, mm/min',
    linesPerS: 10,
    print: (s) => {
      const { d, t1, s1, p1, v } = truthAt(s);
      return `T:${f(t1, 1)} /${f(s1, 1)} @:${Math.round(p1 * 127)} D:${f(d * 1000, 0)} feedrate:${f(v * 60, 0)}\n`;
    },
    understood: { d: 0.002, t1: 0.2, s1: 0.01, p1: 0.01, v: 0.2 },
    asks: [],
  },
];
