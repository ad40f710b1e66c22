import type { Board, Moment } from './boards.ts';

const f = (value: number, places: number) => value.toFixed(places);
const comma = (value: number, places: number) => f(value, places).replace('.', ',');
const of = (share: number, full: number) => String(Math.round(share * full));
const fahrenheit = (c: number) => c * 1.8 + 32;
const feetPerMin = (mmPerS: number) => (mmPerS / 25.4 / 12) * 60;
const t = (m: Moment, zone: number) => m.t[zone - 1] ?? 0;
const p = (m: Moment, zone: number) => m.p[zone - 1] ?? 0;
const inLine = (lines: readonly string[], i: number) => lines[i % lines.length] ?? '';

/** Written, and read once, before anything was changed for them. */
export const MORE_BOARDS: readonly Board[] = [
  {
    name: 'Turkish, decimal commas',
    linesPerS: 3,
    lineEnd: '\n',
    print: (m) =>
      `Çap: ${comma(m.d, 3)} mm; Nozul: ${comma(t(m, 1), 1)} °C; Hedef: 200 °C; Güç: ${of(p(m, 1), 100)} %; Hız: ${comma(m.v, 1)} mm/s`,
    roles: 'd t1 s1 p1 v',
  },
  {
    name: 'the puller first, three letters for each heater',
    linesPerS: 2,
    print: (m) =>
      `PULL ${f(m.v * 0.06, 2)} m/min ; OD ${of(m.d, 1000)} um ; HZ1 PV=${f(t(m, 1), 1)} SP=200 CV=${of(p(m, 1), 100)} ; HZ2 PV=${f(t(m, 2), 1)} SP=210 CV=${of(p(m, 2), 100)}`,
    roles: 'v d t1 s1 p1 t2 s2 p2',
  },
  {
    name: 'JSON each second, a haul-off, an ovality',
    linesPerS: 1,
    lineEnd: '\n',
    print: (m, i) =>
      JSON.stringify({
        haul_off_mm_s: Number(f(m.v, 1)),
        laser: { mean: Number(f(m.d, 3)), ovality: Number(f(Math.abs(m.dx - m.dy), 3)) },
        heaters: [1, 2].map((zone) => ({
          name: zone === 1 ? 'feed' : 'die',
          actual: Number(f(t(m, zone), 1)),
          target: m.set[zone - 1],
          drive: Number(f(p(m, zone), 2)),
        })),
        screw_rpm: Number(f(m.rpm, 1)),
        up_s: 40 + i,
      }),
    roles: 'v d t1 s1 p1 t2 s2 p2 rpm',
    also: 'ms',
  },
  {
    name: 'Finnish columns under a header in Latin-1, which comes once',
    linesPerS: 1,
    isLatin1: true,
    print: (m, i) =>
      i === 0
        ? 'Aika\tHalkaisija\tLämpö1\tTavoite1\tTeho1\tLämpö2\tTavoite2\tTeho2\tVetonopeus'
        : [
            i,
            comma(m.d, 3),
            comma(t(m, 1), 1),
            200,
            of(p(m, 1), 100),
            comma(t(m, 2), 1),
            210,
            of(p(m, 2), 100),
            comma(m.v, 1),
          ].join('\t'),
    roles: 'd t1 s1 p1 t2 s2 p2 v',
    also: 'ms',
  },
  {
    name: 'fast columns without a header, two axes, powers of 255 and a length',
    linesPerS: 25,
    lineEnd: '\n',
    print: (m, i) =>
      [
        1000 + i * 40,
        f(m.dx, 3),
        f(m.dy, 3),
        f(t(m, 1), 1),
        200,
        of(p(m, 1), 255),
        f(t(m, 2), 1),
        210,
        of(p(m, 2), 255),
        f(m.len, 0),
      ].join(','),
    roles: 'dx dy t1 s1 t2 s2',
    also: 'ms',
    open: 'p1 p2 len',
  },
  {
    name: 'a block of lines in inches, Fahrenheit and feet per minute',
    linesPerS: 7,
    print: (m, i) =>
      inLine(
        [
          `> FIL OD: ${f(m.d / 25.4, 4)}`,
          `> BBL T: ${f(fahrenheit(t(m, 1)), 0)}`,
          `> BBL SET: ${f(fahrenheit(200), 0)}`,
          `> DIE T: ${f(fahrenheit(t(m, 2)), 0)}`,
          `> DIE SET: ${f(fahrenheit(210), 0)}`,
          `> PULL FPM: ${f(feetPerMin(m.v), 2)}`,
          '---',
        ],
        i,
      ),
    roles: 'd t1 s1 t2 s2 v',
  },
];
