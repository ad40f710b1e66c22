import { describe, expect, it } from 'vitest';
import { propose } from '../../server/proposal/propose.ts';
import { SeenFields } from '../../server/reading/seen-fields.ts';

/** Six seconds of lines at ten a second; each field by time in s and line number. */
function proposed(fields: Record<string, (s: number, i: number) => number | string>, seconds = 6) {
  const seen = new SeenFields();
  for (let i = 0; i < seconds * 10; i++) {
    const printed = Object.values(fields).map((at) => /^(-?[\d.]+|nan)(.*)$/.exec(String(at(i / 10, i))) ?? []);
    seen.add(
      { names: Object.keys(fields), units: printed.map(([, , unit = '']) => unit.trim()) },
      printed.map(([, text]) => Number(text)),
      printed.map(([, text = '']) => text.split('.')[1]?.length ?? 0),
      i * 100,
      i,
    );
  }
  return Object.fromEntries(
    propose(seen.all(), 1.75).map(({ name, role, unit, needsPins }) => [
      name,
      [role, unit, ...(needsPins ? ['pins'] : [])].filter((part) => part !== '').join(' '),
    ]),
  );
}

const wobble =
  (base: number, by: number, places = 2) =>
  (s: number) =>
    (base + by * Math.sin(s * 3)).toFixed(places);
const fixed =
  (value: number, places = 0) =>
  () =>
    value.toFixed(places);

describe('what names and values propose', () => {
  it('finds diameter, zones, power of 255 and speed by short names', () => {
    expect(
      proposed({
        D: wobble(1.755, 0.015, 3),
        TempA: wobble(198, 0.4, 1),
        TempB: wobble(205, 0.4, 1),
        pwm: (s) => Math.round(140 + 100 * Math.sin(s)),
      }),
    ).toEqual({ D: 'd mm', TempA: 't1 C', TempB: 't2 C' });
    expect(
      proposed({
        D: wobble(1.755, 0.015, 3),
        TempA: wobble(198, 0.4, 1),
        pwm: (s) => Math.round(140 + 100 * Math.sin(s)),
      }),
    ).toEqual({
      D: 'd mm',
      TempA: 't1 C',
      pwm: 'p1 of255',
    });
  });

  it('pairs numbers counted from 0 with those counted from 1', () => {
    const temperatures = (first: number) => ({
      [`T${first}`]: wobble(190, 0.4, 1),
      [`T${first + 1}`]: wobble(200, 0.5, 1),
    });
    expect(proposed({ ...temperatures(0), SET1: fixed(190), SET2: fixed(200) })).toEqual({
      T0: 't1 C',
      T1: 't2 C',
      SET1: 's1 C',
      SET2: 's2 C',
    });
    const duty = (by: number) => (s: number) => (50 + 20 * Math.sin(s * by)).toFixed(0);
    expect(proposed({ ...temperatures(1), duty1: duty(3), duty0: duty(2) })).toMatchObject({
      T1: 't1 C',
      T2: 't2 C',
      duty1: expect.stringContaining('p2'),
      duty0: expect.stringContaining('p1'),
    });
  });

  it('numbers zones at the same place alike whichever is printed first', () => {
    const barrel1 = { 'Temp barrel 1': wobble(190, 0.4, 1) };
    const barrel2 = { 'Temp barrel 2': wobble(200, 0.5, 1) };
    const die = { 'Temp die': wobble(205, 0.3, 1) };
    const expected = { 'Temp barrel 1': 't1 C', 'Temp barrel 2': 't2 C', 'Temp die': 't3 C' };
    expect(proposed({ ...barrel1, ...barrel2, ...die })).toEqual(expected);
    expect(proposed({ ...barrel2, ...die, ...barrel1 })).toEqual(expected);
    expect(proposed({ ...die, ...barrel2, ...barrel1 })).toEqual(expected);
  });

  it('takes a low PWM for one of 255, and what is printed in per cent for that', () => {
    const low = (s: number) => Math.round(60 + 20 * Math.sin(s));
    const temp = wobble(198, 0.4, 1);
    expect(proposed({ temp, pwm: low })).toEqual({ temp: 't1 C', pwm: 'p1 of255' });
    expect(proposed({ temp, pwm: (s) => `${low(s)} %` })).toEqual({ temp: 't1 C', pwm: 'p1 %' });
    expect(proposed({ temp, pwm: (s) => 10 * low(s) })).toEqual({ temp: 't1 C', pwm: 'p1 of1023' });
  });

  it('reads inches and degrees Fahrenheit', () => {
    expect(
      proposed({ Dia: (s) => `${wobble(0.069, 0.0005, 4)(s)} in`, T: (s) => `${wobble(390, 1, 1)(s)} F` }),
    ).toEqual({
      Dia: 'd in',
      T: 't1 F',
    });
    expect(proposed({ dia: wobble(0.069, 0.0005, 4), temp: wobble(391, 1, 1) })).toEqual({ dia: 'd in', temp: 't1 F' });
  });

  it('takes two that agree for two axes, and a third that is their mean for neither', () => {
    const x = wobble(1.76, 0.01, 3);
    const y = (s: number) => (1.75 + 0.01 * Math.sin(s * 2)).toFixed(3);
    expect(proposed({ diaX: x, diaY: y })).toEqual({ diaX: 'dx mm', diaY: 'dy mm' });
    const mean = (s: number) => ((Number(x(s)) + Number(y(s))) / 2).toFixed(4);
    expect(proposed({ diaX: x, diaY: y, dia: mean })).toEqual({ diaX: 'dx mm', diaY: 'dy mm' });
  });

  it('never proposes a role twice, nor a diameter of 92 mm', () => {
    const roles = Object.values(
      proposed({ width: wobble(92, 1), d1: wobble(1.75, 0.01, 3), d2: wobble(2.3, 0.01, 3), d3: wobble(1.2, 0.01, 3) }),
    );
    expect(roles).toEqual(['d mm']);
  });

  it('finds what bare columns show', () => {
    expect(
      proposed({
        column1: wobble(1.752, 0.01, 3),
        column2: wobble(198.4, 0.5, 1),
        column3: fixed(200),
        column4: wobble(35.2, 0.4, 1),
      }),
    ).toEqual({ column1: 'd mm', column2: 't1 C', column3: 's1 C', column4: 'v mm/s' });
  });

  it('orders zones by number from 0 or 1, and by where they are', () => {
    expect(
      proposed({
        'zones.0.c': wobble(185, 0.5, 1),
        'zones.1.c': wobble(195, 0.5, 1),
        'zones.0.set': fixed(185),
        'zones.1.set': fixed(195),
      }),
    ).toEqual({
      'zones.0.c': 't1 C',
      'zones.1.c': 't2 C',
      'zones.0.set': 's1 C',
      'zones.1.set': 's2 C',
    });
    expect(
      proposed({
        dieTemp: wobble(205, 0.5, 1),
        feedTemp: wobble(180, 0.5, 1),
        dieSet: fixed(205),
        feedSet: fixed(180),
      }),
    ).toEqual({
      dieTemp: 't2 C',
      feedTemp: 't1 C',
      dieSet: 's2 C',
      feedSet: 's1 C',
    });
  });

  it('pairs a target behind a slash with its temperature', () => {
    expect(proposed({ T: wobble(198.8, 0.4, 1), 'T /': fixed(200, 1) })).toEqual({ T: 't1 C', 'T /': 's1 C' });
  });

  it('understands German names', () => {
    expect(
      proposed({
        Durchmesser: wobble(1.75, 0.01, 2),
        Düse: (s) => `${wobble(205, 0.4, 1)(s)} °C`,
        Abzug: wobble(38, 0.3, 1),
        Sollwert: fixed(205),
      }),
    ).toEqual({ Durchmesser: 'd mm', Düse: 't1 C', Abzug: 'v mm/s', Sollwert: 's1 C' });
  });

  it('tells the unit of the speed by the length that is counted with it', () => {
    expect(proposed({ dia: wobble(1.75, 0.01, 3), len: (s) => (s * 0.03).toFixed(3), speed: fixed(1.8, 1) })).toEqual({
      dia: 'd mm',
      len: 'len m',
      speed: 'v m/min',
    });
  });

  it('finds the clock and the line number by how they rise', () => {
    expect(
      proposed({ millis: (s) => Math.round(s * 1000) + 5000, cnt: (_, i) => 40 + i, dia: wobble(1.75, 0.01, 3) }),
    ).toEqual({
      millis: 'ms ms',
      cnt: 'n',
      dia: 'd mm',
    });
  });

  it('proposes a raw count of the gauge only with pins', () => {
    expect(proposed({ adc: (s) => Math.round(787 + 5 * Math.sin(s)), temp: wobble(198, 0.4, 1) })).toEqual({
      adc: 'd mm pins',
      temp: 't1 C',
    });
  });

  it('finds by their movements which power heats which zone', () => {
    const first = (s: number) => (Math.sin(s / 9) > 0 ? 1 : 0);
    const second = (s: number) => (Math.sin(s / 5 + 1) > 0 ? 1 : 0);
    const integral = (of: (s: number) => number) => {
      const sums: number[] = [0];
      for (let i = 1; i < 1300; i++) sums.push((sums.at(-1) ?? 0) + (of(i / 10) - 0.5) * 0.05);
      return (_: number, i: number) => (190 + (sums[i] ?? 0)).toFixed(2);
    };
    const roles = (pwmUpper: (s: number) => number, pwmLower: (s: number) => number) =>
      proposed({ rearTemp: integral(second), frontTemp: integral(first), pwmUpper, pwmLower }, 110);
    const temperatures = { rearTemp: 't1 C', frontTemp: 't2 C' };
    const [heatsRear, heatsFront] = [(s: number) => second(s) * 255, (s: number) => first(s) * 255];
    expect(roles(heatsFront, heatsRear)).toEqual({ ...temperatures, pwmUpper: 'p2 of255', pwmLower: 'p1 of255' });
    expect(roles(heatsRear, heatsFront)).toEqual({ ...temperatures, pwmUpper: 'p1 of255', pwmLower: 'p2 of255' });
    // What follows no power, or follows each alike, is left open.
    const neither = (s: number) => (Math.sin(s * 2.3) > 0 ? 255 : 0);
    expect(roles(neither, neither)).toEqual(temperatures);
  });

  it('takes the turns of a puller for a speed only beside the diameter of its wheel', () => {
    const puller = { dia: wobble(1.75, 0.01, 3), puller_rpm: wobble(17.2, 0.2, 1) };
    expect(proposed(puller)).toEqual({ dia: 'd mm' });
    expect(proposed({ ...puller, wheel_mm: fixed(40) })).toEqual({ dia: 'd mm', puller_rpm: 'v rpm' });
  });

  it('takes a slash only behind a name for the sign of a set-point, and what is done for no power', () => {
    const names = { '/log?dia': wobble(1.75, 0.01, 3), noz: wobble(199, 1, 1), 'noz /': fixed(200) };
    expect(proposed({ ...names, done: (s) => `${(2 + s / 36).toFixed(2)} %` })).toEqual({
      '/log?dia': 'd mm',
      noz: 't1 C',
      'noz /': 's1 C',
    });
  });

  it('takes neither a weight for a temperature nor a fixed size for a length', () => {
    expect(
      proposed({ dia: wobble(1.75, 0.01, 3), poids: (s) => `${(180 + s).toFixed(1)} g`, core_mm: fixed(52) }),
    ).toEqual({ dia: 'd mm' });
  });

  it('proposes nothing for values without evidence, nor for a column of several quantities in turn', () => {
    expect(proposed({ foo: wobble(5, 1), state: fixed(3), quux: wobble(-40, 2) })).toEqual({});
    expect(proposed({ column1: (_, i) => [1.752, 201.2, 35.4][i % 3] ?? 0 })).toEqual({});
  });
});

describe('a board that opening its port resets', () => {
  const length = (s: number) => `${(0.0382 * s).toFixed(4)}m`;
  const temperature = (s: number) => `${(198 + Math.sin(s)).toFixed(1)}C`;

  it.each([1, 2, 3, 20])('has a length, also if %i values came before the reset', (before) => {
    const fields = { T: temperature, L: (_: number, i: number) => length((i < before ? i + 1 : i - before) / 10) };
    expect(proposed(fields)).toMatchObject({ L: 'len m' });
  });

  it('is not made up from a value that falls again and again', () => {
    const fields = { T: temperature, L: (_: number, i: number) => length((i % 2) / 10) };
    expect(proposed(fields)).not.toHaveProperty('L');
  });
});
