import { normal, seeded } from '../chance.ts';
import { checked } from '../reading/intake-bench.ts';

/** What a line does at a moment, in the units of the reading-line contract; zones are numbered from 0. */
export interface Moment {
  readonly s: number;
  readonly d: number;
  readonly dx: number;
  readonly dy: number;
  readonly t: readonly number[];
  readonly set: readonly number[];
  readonly p: readonly number[];
  /** mm/s */
  readonly v: number;
  /** mm */
  readonly len: number;
  readonly rpm: number;
  readonly amp: number;
  readonly turns: number;
}

export function momentAt(s: number, isCold = false): Moment {
  // The same at the same moment, whichever test asks first.
  const noise = normal(seeded(7 + Math.round(s * 1000)));
  const dx = 1.752 + 0.012 * Math.sin(s / 2.1) + 0.002 * noise();
  const set = [200, 210, 195];
  const swing = (i: number) => s / (5 + i) + i;
  return {
    s,
    d: dx,
    dx,
    dy: dx - 0.006 + 0.002 * noise(),
    t: set.map((c, i) => (isCold ? 24 + 0.9 * s + 0.4 * i : c + 1.3 * Math.sin(swing(i))) + 0.1 * noise()),
    set,
    p: set.map((_, i) => (isCold ? 1 : 0.44 + 0.05 * i + 0.09 * Math.cos(swing(i)))),
    v: 35 + 0.4 * Math.sin(s / 3) + 0.03 * noise(),
    len: 1500 + 35 * s,
    rpm: 12.4 + 0.03 * noise(),
    amp: 1.8 + 0.03 * noise(),
    turns: Math.floor((1500 + 35 * s) / 260),
  };
}

/** A board as a maker may have programmed it. */
export interface Board {
  readonly name: string;
  readonly linesPerS: number;
  readonly print: (m: Moment, i: number) => string;
  /** Roles that must be proposed, and come out right. */
  readonly roles: string;
  /** Roles beside these that may be proposed: a clock or a line number. */
  readonly also?: string;
  /** Roles that it sends, but that are not recognised. */
  readonly open?: string;
  /** '\r\n' by default. */
  readonly lineEnd?: string;
  readonly isLatin1?: boolean;
  readonly isCold?: boolean;
  /** It starts anew when its port is opened, and prints its header only then. */
  readonly isResetByOpening?: boolean;
  /** How long it must be listened to, where it does not print everything all the time; 5 by default. */
  readonly seconds?: number;
}

/** What it prints as line `i`. */
export function bytesOf(board: Board, i: number, moment = momentAt(i / board.linesPerS, board.isCold)): Buffer {
  return Buffer.from(`${board.print(moment, i)}${board.lineEnd ?? '\r\n'}`, board.isLatin1 ? 'latin1' : 'utf8');
}

const f = (value: number, places: number) => value.toFixed(places);
const comma = (value: number, places: number) => f(value, places).replace('.', ',');
const of = (share: number, full: number) => String(Math.round(share * full));
const fahrenheit = (c: number) => c * 1.8 + 32;
const clock = (s: number) => new Date(Date.UTC(2026, 0, 1, 0, 12, 34) + s * 1000).toISOString();
const T = (m: Moment, zone: number, places = 1) => f(m.t[zone - 1] ?? 0, places);
const P = (m: Moment, zone: number) => m.p[zone - 1] ?? 0;
const WHEEL_MM = 40;
const turnsPerMin = (m: Moment) => (m.v * 60) / (Math.PI * WHEEL_MM);

/** Each was written before it was first read; what it taught is in the code that reads it. */
export const BOARDS: readonly Board[] = [
  {
    name: 'German names, semicolons, a header that comes late',
    linesPerS: 5,
    print: (m, i) =>
      i % 30 === 12
        ? 'Zeit;Durchmesser;Heizung1;Soll1;Heizung2;Soll2;PWM1;PWM2;Abzug'
        : `${comma(m.s, 1)};${comma(m.d, 3)};${comma(m.t[0] ?? 0, 1)};200,0;${comma(m.t[1] ?? 0, 1)};210,0;${of(P(m, 1), 255)};${of(P(m, 2), 255)};${comma(m.v, 1)}`,
    roles: 'd t1 s1 p1 t2 s2 p2 v',
    also: 'ms',
  },
  {
    name: 'Spanish prose and pipes',
    linesPerS: 2,
    print: (m) =>
      `Diametro: ${f(m.d, 3)} mm | Zona 1: ${T(m, 1)} °C (obj 200) | Zona 2: ${T(m, 2)} °C (obj 210) | Tornillo: ${f(m.rpm, 1)} rpm | Velocidad: ${f(m.v * 0.06, 2)} m/min`,
    roles: 'd t1 s1 t2 s2 rpm v',
  },
  {
    name: 'French in Latin-1, two set-points with one name',
    linesPerS: 4,
    lineEnd: '\n',
    isLatin1: true,
    print: (m) =>
      `diamètre=${comma(m.d, 3)} mm; corps=${comma(m.t[0] ?? 0, 1)} °C; consigne=200,0 °C; buse=${comma(m.t[1] ?? 0, 1)} °C; consigne=210,0 °C; chauffe corps=${of(P(m, 1), 100)} %; chauffe buse=${of(P(m, 2), 100)} %`,
    roles: 'd t1 s1 p1 t2 s2 p2',
  },
  {
    name: 'Cyrillic, actual/set',
    linesPerS: 3,
    print: (m) =>
      `Диаметр ${f(m.d, 3)} мм  Зона1 ${T(m, 1)}/200 Зона2 ${T(m, 2)}/210  Мощность1 ${of(P(m, 1), 100)}% Мощность2 ${of(P(m, 2), 100)}%  Скорость ${f(m.v, 1)} мм/с`,
    roles: 'd t1 s1 p1 t2 s2 p2 v',
  },
  {
    name: 'hall counts, from cold',
    linesPerS: 10,
    isCold: true,
    print: (m) =>
      `H:${Math.round(2143 + (m.d - 1.752) * 3000)} TC:${f(Math.round((m.t[0] ?? 0) * 4) / 4, 2)} SET:200 OUT:255`,
    roles: 't1 s1 p1',
  },
  {
    name: 'inches and Fahrenheit in prose',
    linesPerS: 2,
    print: (m) =>
      `DIA ${f(m.d / 25.4, 4).slice(1)} in, BARREL ${f(fahrenheit(m.t[0] ?? 0), 0)} F, NOZZLE ${f(fahrenheit(m.t[1] ?? 0), 0)} F, PULL ${f((m.v / 25.4) * 60, 1)} in/min`,
    roles: 'd t1 t2 v',
  },
  {
    name: 'nested JSON, micrometres, a puller in turns per minute',
    linesPerS: 5,
    lineEnd: '\n',
    print: (m, i) => {
      const heat = [1, 2].map((zone) => ({
        pv: Number(T(m, zone)),
        sv: m.set[zone - 1],
        out: Number(f(P(m, zone), 2)),
      }));
      const gauge = { x_um: Math.round(m.dx * 1000), y_um: Math.round(m.dy * 1000) };
      return JSON.stringify({ t: 12345 + i * 200, gauge, heat, puller: { rpm: Number(f(m.v / 2, 1)) } });
    },
    roles: 'dx dy t1 s1 p1 t2 s2 p2',
    also: 'ms',
  },
  {
    name: 'one value a line, a banner, blank lines, from cold',
    linesPerS: 8,
    isCold: true,
    print: (m, i) => {
      if (i < 3) return ['=== Extruder v3 ===', 'SD card ok', ''][i] ?? '';
      const lines = [
        `Filament width: ${f(m.d, 2)}`,
        `Heater A temp: ${T(m, 1)}`,
        'Heater A target: 200',
        `Heater B temp: ${T(m, 2)}`,
        'Heater B target: 210',
        `Puller speed: ${f(m.v, 1)}`,
        '',
      ];
      return lines[(i - 3) % lines.length] ?? '';
    },
    roles: 'd t1 s1 t2 s2 v',
  },
  {
    name: 'a $ sentence with the time of day, micrometres and tenths',
    linesPerS: 5,
    print: (m) => {
      const time = clock(m.s).slice(11, 22).replaceAll(':', '');
      const tenths = m.t.map((c) => Math.round(c * 10));
      return `$${checked(`FIL,${time},${Math.round(m.dx * 1000)},${Math.round(m.dy * 1000)},${tenths[0]},2000,${tenths[1]},2100`)}`;
    },
    roles: 'dx dy t1 s1 t2 s2',
  },
  {
    name: 'log stamps, a spread behind each value, a fan of 255',
    linesPerS: 2,
    print: (m) =>
      `[${clock(m.s).slice(11, 23)}] INFO dia=${f(m.d, 3)}±0.004mm, T1=${T(m, 1)}±0.2C/200C, T2=${T(m, 2)}±0.2C/210C, fan=128/255`,
    roles: 'd t1 s1 t2 s2',
  },
  {
    name: 'tabs, colours, carriage returns alone',
    linesPerS: 5,
    lineEnd: '\r',
    print: (m) => `\x1b[32mD\t${f(m.d, 3)}\x1b[0m\tT\t${T(m, 1)}\tSP\t200\tPW\t${f(P(m, 1), 2)}`,
    roles: 'd t1 s1 p1',
  },
  {
    name: 'rails for a plotter, metres',
    linesPerS: 10,
    print: (m) =>
      `min:1.70,max:1.80,ist:${f(m.d, 3)},temp:${T(m, 1)},soll:200,schnecke_rpm:${f(m.rpm, 1)},meter:${f(m.len / 1000, 3)}`,
    roles: 'd t1 s1 rpm len',
  },
  {
    name: 'Italian, semicolons, no units',
    linesPerS: 4,
    print: (m) =>
      `diametro=${f(m.d, 3)};corpo=${T(m, 1)};rif_corpo=200;ugello=${T(m, 2)};rif_ugello=210;potenza_corpo=${of(P(m, 1), 100)};potenza_ugello=${of(P(m, 2), 100)};velocita=${f(m.v * 0.06, 2)}`,
    roles: 'd t1 s1 p1 t2 s2 p2 v',
  },
  {
    name: 'noise at its start, then JSON in camel case',
    linesPerS: 5,
    isLatin1: true,
    print: (m, i) =>
      i === 0
        ? '\x00\x7f\xc3\xf8rl\x12\xe2l\xf1b\x8e'
        : i === 1
          ? 'rst cause:2, boot mode:(3,6)'
          : `{"uptimeMs":${3000 + i * 200},"filamentDiaMm":${f(m.d, 3)},"hotendC":${T(m, 1)},"hotendTargetC":200,"heaterDuty":${of(P(m, 1), 255)},"pullerMmPerS":${f(m.v, 1)}}`,
    roles: 'd t1 s1 p1 v',
    also: 'ms',
  },
  {
    name: 'a header behind #, three zones in groups',
    linesPerS: 10,
    print: (m, i) =>
      i === 0
        ? '# time_ms,dia_x,dia_y,T_feed,T_melt,T_die,SP_feed,SP_melt,SP_die'
        : [i * 100, f(m.dx, 3), f(m.dy, 3), ...m.t.map((c) => f(c, 1)), ...m.set].join(','),
    roles: 'dx dy t1 s1 t2 s2 t3 s3',
    also: 'ms',
  },
  {
    name: 'numbers before their names',
    linesPerS: 2,
    print: (m) => `${f(m.d, 2)} mm dia, ${T(m, 1)} C nozzle, 200 C set, ${f(m.v, 0)} mm/s pull`,
    roles: 'd t1 s1 v',
  },
  {
    name: 'Dutch capitals, tabs, decimal commas',
    linesPerS: 4,
    print: (m) =>
      `DIKTE ${comma(m.d, 3)}\tTEMP ${comma(m.t[0] ?? 0, 1)}\tDOEL 200,0\tSNELHEID ${comma(m.v, 1)}\tWARMTE ${of(P(m, 1), 100)}%`,
    roles: 'd t1 s1 p1 v',
  },
  {
    name: 'padded columns under a ruled header, inches and Fahrenheit',
    linesPerS: 4,
    print: (m, i) => {
      if (i % 20 === 5) return '  seq   dia_in   Tz1_F  Tz2_F  duty1  duty2';
      if (i % 20 === 6) return '----- -------- ------- ------ ------ ------';
      const heat = [1, 2].map((zone) => f(fahrenheit(m.t[zone - 1] ?? 0), 0).padStart(7));
      const duty = [1, 2].map((zone) => f(P(m, zone), 2).padStart(6));
      return [String(i).padStart(5), f(m.d / 25.4, 4).padStart(8), ...heat, ...duty].join(' ');
    },
    roles: 'd t1 p1 t2 p2',
    also: 'n',
  },
  {
    name: 'horizontal and vertical with their mean',
    linesPerS: 5,
    print: (m) =>
      `H=${f(m.dx, 3)} V=${f(m.dy, 3)} avg=${f((m.dx + m.dy) / 2, 3)} oval=${f(Math.abs(m.dx - m.dy), 3)} | noz ${T(m, 1, 0)}C>200C | mtr ${f(m.amp, 1)}A ${f(m.rpm, 1)}rpm`,
    roles: 'dx dy t1 s1 amp rpm',
  },
  {
    name: 'hundredths everywhere',
    linesPerS: 10,
    print: (m) => `w:${of(m.d, 100)} t:${of(m.t[0] ?? 0, 100)} s:20000 o:${of(P(m, 1), 10_000)}`,
    roles: 'd t1 s1',
    open: 'p1',
  },
  {
    name: 'names in brackets, a line for each sensor',
    linesPerS: 6,
    print: (m, i) =>
      [`[GRUBOSC] ${f(m.d, 3)}`, `[TEMP 1] ${T(m, 1)} -> 200`, `[TEMP 2] ${T(m, 2)} -> 210`][i % 3] ?? '',
    roles: 'd t1 s1 t2 s2',
  },
  {
    name: 'a log tag with its uptime, and prose',
    linesPerS: 2,
    print: (m, i) =>
      `I (${3000 + i * 500}) gauge: width ${of(m.d, 1000)} um, melt ${T(m, 1)} degC (target 200.0 degC), duty ${of(P(m, 1), 100)}%, pulling ${f(m.v, 1)} mm/s`,
    roles: 'd t1 s1 p1 v',
  },
  {
    name: 'JSON with zones by name',
    linesPerS: 4,
    print: (m) => {
      const zone = (n: number) => ({ now: Number(T(m, n)), set: m.set[n - 1], pwm: Math.round(P(m, n) * 255) });
      const dia = { h: Number(f(m.dx, 3)), v: Number(f(m.dy, 3)) };
      return JSON.stringify({ dia, zones: { feed: zone(1), die: zone(2) }, speed_m_min: Number(f(m.v * 0.06, 3)) });
    },
    roles: 'dx dy t1 s1 p1 t2 s2 p2 v',
  },
  {
    name: 'bare columns, power of 1023, three zones',
    linesPerS: 10,
    print: (m) => [f(m.d, 2), ...m.t.map((c) => f(c, 0)), ...m.p.map((p) => of(p, 1023))].join(' '),
    roles: 'd t1 t2 t3',
    open: 'p1 p2 p3',
  },
  {
    name: 'Portuguese, units in parentheses, the die first',
    linesPerS: 3,
    print: (m) =>
      `Espessura(mm): ${comma(m.d, 3)} Bico(C): ${comma(m.t[1] ?? 0, 1)} Alvo bico(C): 210,0 Cilindro(C): ${comma(m.t[0] ?? 0, 1)} Alvo cilindro(C): 200,0 Velocidade(mm/s): ${comma(m.v, 1)}`,
    roles: 'd t1 s1 t2 s2 v',
  },
  {
    name: 'a header with tabs and units, repeated',
    linesPerS: 5,
    print: (m, i) =>
      i % 25 === 3
        ? 't [s]\tDiameter [mm]\tHeater 1 [C]\tHeater 2 [C]\tDuty 1 [%]\tDuty 2 [%]\tPull [mm/s]'
        : [f(m.s, 1), f(m.d, 3), T(m, 1), T(m, 2), of(P(m, 1), 100), of(P(m, 2), 100), f(m.v, 1)].join('\t'),
    roles: 'd t1 p1 t2 p2 v',
    also: 'ms',
  },
  {
    name: 'codes of one letter, the same letter for two things',
    linesPerS: 5,
    print: (m) => `D${f(m.d, 3)} N${T(m, 1)} n200.0 W${of(P(m, 1), 255)} F${f(m.v, 1)} A${f(m.amp, 2)}`,
    roles: 'd amp',
    open: 't1 s1 p1 v',
  },
  {
    name: 'a laser gauge in µm, units in the header only, a puller with its wheel',
    linesPerS: 5,
    print: (m, i) => {
      const banner = ['', 'LaserGauge fw 2.1.4', 'warming up laser ... 3 s', 'ready', ''];
      if (i < banner.length) return banner[i] ?? '';
      if (i === banner.length)
        return 'time_s,laser_dia_um,barrel_degC,barrel_SP_degC,barrel_out_pct,puller_rpm,wheel_mm';
      return [f(m.s, 2), of(m.d, 1000), T(m, 1), 200, of(P(m, 1), 100), f(turnsPerMin(m), 2), WHEEL_MM].join(',');
    },
    roles: 'd t1 s1 p1 v',
    also: 'ms',
  },
  {
    name: 'Ø for both axes, German in Latin-1',
    linesPerS: 4,
    isLatin1: true,
    print: (m) =>
      `Ø1 ${comma(m.dx, 3)}  Ø2 ${comma(m.dy, 3)} mm   Zone 1: ${comma(m.t[0] ?? 0, 1)} °C (soll 200)   Zone 2: ${comma(m.t[1] ?? 0, 1)} °C (soll 210)   Abzug ${comma(m.v, 1)} mm/s`,
    roles: 'dx dy t1 s1 t2 s2 v',
  },
  {
    name: 'raw counts of a hall sensor, SP, and a length',
    linesPerS: 10,
    print: (m) =>
      `raw ${Math.round(412 + (m.d - 1.752) * 900)} | T ${f(Math.round((m.t[0] ?? 0) * 4) / 4, 2)} | SP 200 | duty ${of(P(m, 1), 100)}% | len ${f(m.len / 1000, 3)} m`,
    roles: 't1 s1 p1 len',
  },
  {
    name: 'Swedish, a line only for what changed',
    linesPerS: 6,
    seconds: 40,
    print: (m, i) => {
      const settings = ['Börvärde 1: 200', 'Börvärde 2: 210'];
      if (i % 24 < 2) return settings[i % 24] ?? '';
      const changed = [
        `Tjocklek: ${comma(m.d, 3)}`,
        `Zon 1: ${comma(m.t[0] ?? 0, 1)}`,
        `Effekt 1: ${of(P(m, 1), 100)} %`,
        `Tjocklek: ${comma(m.d, 3)}`,
        `Effekt 2: ${of(P(m, 2), 100)} %`,
        `Zon 2: ${comma(m.t[1] ?? 0, 1)}`,
        `Zon 1: ${comma(m.t[0] ?? 0, 1)}`,
      ];
      return changed[i % changed.length] ?? '';
    },
    roles: 'd t1 s1 p1 t2 s2 p2',
  },
  {
    name: 'French, a scale, counters',
    linesPerS: 2,
    print: (m, i) =>
      `cpt=${String(417 + i).padStart(6, '0')} poids=${f(180 + m.len * 0.003, 1)} g Ø=${f(m.d, 2)} mm buse=${T(m, 1)} consigne=200 tours=${m.turns}`,
    roles: 'd t1 s1 turns',
    also: 'n',
  },
  {
    name: 'German JSON, lists, a puller with its wheel',
    linesPerS: 5,
    lineEnd: '\n',
    print: (m) =>
      JSON.stringify({
        dia_um: Math.round(m.d * 1000),
        ist: [Number(T(m, 1)), Number(T(m, 2))],
        soll: [200, 210],
        stell: [Math.round(P(m, 1) * 100), Math.round(P(m, 2) * 100)],
        abzug_upm: Number(f(turnsPerMin(m), 2)),
        rad_mm: WHEEL_MM,
      }),
    roles: 'd t1 s1 p1 t2 s2 p2 v',
  },
  {
    name: 'Japanese, signs for units',
    linesPerS: 3,
    print: (m) =>
      `線径 ${f(m.d, 3)}mm 温度1 ${T(m, 1)}℃ 設定1 200℃ 出力1 ${of(P(m, 1), 100)}% 温度2 ${T(m, 2)}℃ 設定2 210℃ 出力2 ${of(P(m, 2), 100)}% 速度 ${f(m.v * 0.06, 3)}m/min`,
    roles: 'd t1 s1 p1 t2 s2 p2 v',
  },
  {
    name: 'a page of text each second, dots before the numbers',
    linesPerS: 6,
    print: (m, i) => {
      if (i < 2) return ['Extruder monitor 0.9, puller wheel 40 mm', ''][i] ?? '';
      const page = [
        '-------- STATUS --------',
        `Filament .......... ${f(m.d, 3)} mm`,
        `Zone 1 (feed) ..... ${T(m, 1)} C  [SP 200]  ${of(P(m, 1), 100)} %`,
        `Zone 2 (die) ...... ${T(m, 2)} C  [SP 210]  ${of(P(m, 2), 100)} %`,
        `Puller ............ ${f(turnsPerMin(m), 1)} rpm`,
        '',
      ];
      return page[(i - 2) % page.length] ?? '';
    },
    roles: 'd t1 s1 p1 t2 s2 p2',
    open: 'v',
  },
];
