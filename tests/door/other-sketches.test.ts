import { expect, it } from 'vitest';
import { propose } from '../../server/proposal/propose.ts';
import { Bench, START_MS } from '../reading/intake-bench.ts';
import { truthAt } from './sketches.ts';

const f = (v: number, p: number) => v.toFixed(p);
/** Further sketches, each with what is proposed after six seconds: name = role (unit). */
const SKETCHES: Record<string, (s: number, i: number) => string> = {
  'Cyrillic names and units': (s) => {
    const t = truthAt(s);
    return `Диаметр: ${f(t.d, 3)} мм Температура: ${f(t.t1, 1)} °C Скорость: ${f(t.v, 1)}\n`;
  },
  'names in quotes': (s) => {
    const t = truthAt(s);
    return `"dia": ${f(t.d, 3)}, "temp": ${f(t.t1, 1)}, "set": ${t.s1}, "rpm": 12\n`;
  },
  'padded numbers': (s) => {
    const t = truthAt(s);
    return `d=${f(t.d, 3).padStart(8)}  T1=${f(t.t1, 1).padStart(7)} T2=${f(t.t2, 1).padStart(7)}  v=${f(t.v, 1).padStart(6)}\n`;
  },
  'a table with pipes': (s) => {
    const t = truthAt(s);
    return `| ${f(t.d, 3)} mm | ${f(t.t1, 1)} C / ${t.s1} C | ${f((t.v * 60) / 1000, 2)} m/min | ${Math.round(t.p1 * 100)} % |\n`;
  },
  arrows: (s) => {
    const t = truthAt(s);
    return `filament -> ${f(t.d, 2)}mm, hotend -> ${f(t.t1, 0)}/${t.s1}C, duty ${Math.round(t.p1 * 255)}\n`;
  },
  'tabs with a clock': (s) => {
    const t = truthAt(s);
    return `${Math.round(s * 1000)}\t${f(t.d, 3)}\t${f(t.t1, 1)}\t${f(t.t2, 1)}\n`;
  },
  'kelvin and micrometres': (s) => {
    const t = truthAt(s);
    return `width=${f(t.d * 1000, 0)}um nozzle=${f(t.t1 + 273.15, 1)}K target=${f(t.s1 + 273.15, 1)}K len=${f(t.len, 0)}\n`;
  },
  'lines for a plotter, with the nominal diameter': (s) => {
    const t = truthAt(s);
    return `Diameter:${f(t.d, 3)},Setpoint:1.75,Temp1:${f(t.t1, 2)},Temp2:${f(t.t2, 2)}\n`;
  },
  'tenths of a degree': (s) => {
    const t = truthAt(s);
    return `D ${f(t.d * 1000, 0)} TA ${f(t.t1 * 10, 0)} TB ${f(t.t2 * 10, 0)} SA ${t.s1 * 10} SB ${t.s2 * 10}\n`;
  },
  'a counter in brackets, and a status line': (s, i) => {
    const t = truthAt(s);
    return `${i % 20 === 0 ? `--- status ${i} ok ---\n` : ''}[${String(i).padStart(5, '0')}] dia=${f(t.d, 3)} temp=${f(t.t1, 1)} pwm=${Math.round(t.p1 * 255)}\n`;
  },
  'JSON with lists': (s) => {
    const t = truthAt(s);
    return `{"t":[${f(t.t1, 1)},${f(t.t2, 1)}],"sp":[${t.s1},${t.s2}],"dia":{"x":${f(t.d + 0.005, 3)},"y":${f(t.d - 0.005, 3)}},"ts":${Math.round(s * 1000)}}\n`;
  },
  sentences: (s) => {
    const t = truthAt(s);
    return `Current diameter is ${f(t.d, 2)} and heater is at ${f(t.t1, 0)} degrees, puller at ${f(t.v, 0)} mm/s\n`;
  },
  'numbers in quotes': (s) => {
    const t = truthAt(s);
    return `"${f(t.d, 3)}","${f(t.t1, 1)}","${t.s1}"\n`;
  },
};
const PROPOSED: Readonly<Record<string, string>> = {
  'Cyrillic names and units': 'Диаметр=d(mm) Температура=t1(C) Скорость=v(mm/s)',
  'names in quotes': 'dia=d(mm) temp=t1(C) set=s1(C) rpm=rpm',
  'padded numbers': 'd=d(mm) T1=t1(C) T2=t2(C) v=v(mm/s)',
  'a table with pipes': 'value 1=d(mm) value 2=t1(C) value 2 /=s1(C) value 2 2=v(m/min) value 2 3=p1(%)',
  arrows: 'filament ->=d(mm) hotend ->=t1(C) hotend /=s1(C) duty=p1(of255)',
  'tabs with a clock': 'column1=ms(ms) column2=d(mm) column3=t1(C) column4=t2(C)',
  'kelvin and micrometres': 'width=d(um) nozzle=t1(K) target=s1(K) len=len(mm)',
  'lines for a plotter, with the nominal diameter': 'Diameter=d(mm) Temp1=t1(C) Temp2=t2(C)',
  'tenths of a degree': 'D=d(um) TA=t1(0.1C) TB=t2(0.1C) SA=s1(0.1C) SB=s2(0.1C)',
  'a counter in brackets, and a status line': 'value 1=n dia=d(mm) temp=t1(C) pwm=p1(of255)',
  'JSON with lists': 't.0=t1(C) t.1=t2(C) sp.0=s1(C) sp.1=s2(C) dia.x=dx(mm) dia.y=dy(mm) ts=ms(ms)',
  'numbers in quotes': 'value 1=d(mm) value 2=t1(C) value 3=s1(C)',
  sentences: 'Current diameter is=d(mm) and heater is at=t1(C) puller at=v(mm/s)',
};

it.each(Object.entries(SKETCHES))('a sketch that prints %s', (name, print) => {
  const bench = new Bench();
  for (let i = 0; i < 60; i++) bench.bytes(Buffer.from(print(i / 10, i)), START_MS + i * 100);
  const proposed = propose(bench.intake.seenFields(), 1.75);
  expect(proposed.map((one) => `${one.name}=${one.role}${one.unit === '' ? '' : `(${one.unit})`}`).join(' ')).toBe(
    PROPOSED[name],
  );
});
