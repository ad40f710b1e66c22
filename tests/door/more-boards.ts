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
    isResetByOpening: true,
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
  {
    name: 'Greek',
    linesPerS: 4,
    lineEnd: '\n',
    print: (m) =>
      `Διάμετρος ${f(m.d, 3)} mm | Θερμοκρασία ${f(t(m, 1), 1)} °C | Στόχος 200 °C | Ισχύς ${of(p(m, 1), 100)} % | Ταχύτητα ${f(m.v, 1)} mm/s`,
    roles: 'd t1 s1 p1 v',
  },
  {
    name: 'columns with an Estonian header, zones a to c in groups',
    linesPerS: 2,
    isResetByOpening: true,
    print: (m, i) =>
      i === 0
        ? 'jrk,labimoot,temp_a,temp_b,temp_c,siht_a,siht_b,siht_c,kiirus'
        : [i, f(m.d, 3), ...m.t.map((c) => f(c, 1)), ...m.set, f(m.v, 1)].join(','),
    roles: 'd t1 t2 t3 s1 s2 s3',
    also: 'n',
    open: 'v',
  },
  {
    name: 'Korean JSON with lists',
    linesPerS: 5,
    lineEnd: '\n',
    print: (m) =>
      `{"선경":${f(m.d, 3)},"온도":[${f(t(m, 1), 1)},${f(t(m, 2), 1)}],"목표":[200,210],"출력":[${of(p(m, 1), 100)},${of(p(m, 2), 100)}],"속도":${f(m.v, 1)}}`,
    roles: 'd t1 t2 s1 s2 p1 p2 v',
  },
  {
    name: 'plus signs, kelvin, cm/s',
    linesPerS: 10,
    print: (m) =>
      `fd=+${f(m.d, 3)} hk=+${f(t(m, 1) + 273.15, 1)}K sk=+473.2K u=+${f(m.v / 10, 2)}cm/s o=+${f(p(m, 1), 2)}`,
    roles: 'd t1 s1 v',
    open: 'p1',
  },
  {
    name: 'English sentences, one for each subject',
    linesPerS: 3,
    print: (m, i) =>
      inLine(
        [
          `The filament measures ${f(m.d, 3)} mm.`,
          `Barrel is at ${f(t(m, 1), 1)} C, heading for 200 C.`,
          `We pull ${f(m.v, 1)} mm/s at ${f(m.rpm, 1)} rpm.`,
        ],
        i,
      ),
    roles: 'd t1 s1 v rpm',
  },
  {
    name: 'thousandths of an inch, m/s in the name',
    linesPerS: 6,
    print: (m) =>
      `fil-dia-mil: ${f(m.d / 0.0254, 1)}, z1-temp: ${f(t(m, 1), 1)}, z1-goal: 200, z2-temp: ${f(t(m, 2), 1)}, z2-goal: 210, line_speed_m_s: ${f(m.v / 1000, 4)}`,
    roles: 'd t1 s1 t2 s2 v',
  },
  {
    name: 'three zones with set-points behind a slash, a motor in per cent',
    linesPerS: 2,
    print: (m) =>
      `FEED ${f(t(m, 1), 1)}/200 MID ${f(t(m, 2), 1)}/210 NOZ ${f(t(m, 3), 1)}/195 | motor 43% | FIL ${f(m.d, 3)} | PULL ${f(m.v, 1)}`,
    roles: 't1 s1 t2 s2 t3 s3 d v',
  },
  {
    name: 'Czech without accents, decimal commas',
    linesPerS: 4,
    lineEnd: '\n',
    print: (m) =>
      `prumer=${comma(m.d, 3)}; teplota=${comma(t(m, 1), 1)}; zadana=200,0; vykon=${of(p(m, 1), 100)}; rychlost=${comma(m.v, 1)}`,
    roles: 'd t1 s1 p1 v',
  },
  {
    name: 'a dictionary as Python prints it',
    linesPerS: 5,
    print: (m) =>
      `{'dia': ${f(m.d, 3)}, 'temps': [${f(t(m, 1), 1)}, ${f(t(m, 2), 1)}], 'targets': [200, 210], 'speed': ${f(m.v, 1)}}`,
    roles: 'd t1 t2 s1 s2 v',
  },
  {
    name: 'a tuple as Python prints it',
    linesPerS: 10,
    print: (m, i) => `(${12345 + i * 100}, ${f(m.d, 3)}, ${f(t(m, 1), 1)}, 200.0, ${f(p(m, 1), 2)})`,
    roles: 'd t1 s1',
    also: 'ms',
    open: 'p1',
  },
  {
    name: 'the terms of a controller with its gains',
    linesPerS: 5,
    print: (m) =>
      `caliper: ${f(m.d, 3)} Input: ${f(t(m, 1), 2)} Setpoint: 200.00 Output: ${f(p(m, 1) * 255, 2)} Kp: 12.00 Ki: 0.80 Kd: 30.00`,
    roles: 'd t1 s1 p1',
  },
  {
    name: 'statistics beside the diameter',
    linesPerS: 2,
    print: (m) =>
      `dia now ${f(m.d, 3)} avg ${f(1.751 + 0.0005 * Math.sin(m.s), 3)} min 1.739 max 1.764 sd 0.0061 | melt ${f(t(m, 1), 1)} (200) | haul ${f(m.v * 0.06, 2)} m/min`,
    roles: 'd t1 s1 v',
  },
  {
    name: 'tags around the numbers',
    linesPerS: 5,
    print: (m) =>
      `<D>${f(m.d, 3)}</D><T1>${f(t(m, 1), 1)}</T1><S1>200</S1><T2>${f(t(m, 2), 1)}</T2><S2>210</S2><V>${f(m.v, 1)}</V>`,
    roles: 'd t1 s1 t2 s2 v',
  },
  {
    name: 'Hungarian, one value a line',
    linesPerS: 10,
    lineEnd: '\n',
    print: (m, i) =>
      inLine(
        [
          `Átmérő: ${comma(m.d, 3)} mm`,
          `Hőmérséklet: ${comma(t(m, 1), 1)} °C`,
          'Beállított: 200 °C',
          `Fűtés: ${of(p(m, 1), 100)} %`,
          `Sebesség: ${comma(m.v, 1)} mm/s`,
        ],
        i,
      ),
    roles: 'd t1 s1 p1 v',
  },
  {
    name: 'a state and a fan that change',
    linesPerS: 10,
    print: (m, i) =>
      `state=${i % 14 < 7 ? 'heating' : 'winding'} d=${f(m.d, 3)} fan ${i % 6 < 3 ? 'ON' : 'off'} temp ${f(t(m, 1), 1)}`,
    roles: 'd t1',
  },
];
