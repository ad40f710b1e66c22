import { describe, expect, test } from 'vitest';
import { Bench } from './intake-bench.ts';

const line = (i: number) => `D1.7${40 + (i % 9)} N20${i % 4}.2 W98`;

describe('a known form of free text', () => {
  test('does not read the last digits of a number as another one after a digit turned into a blank', () => {
    const damaged = line(1).replace('N20', 'N2 ');
    const bench = new Bench().lines(Array.from({ length: 20 }, (_, i) => line(i)));
    for (let k = 0; k < 10; k++) bench.lines([damaged, line(k), line(k + 1)]);
    expect(bench.names).toContain('N');
    const wrong = bench.readings.filter(({ layout, values }) =>
      layout.signals.some(({ name }, k) => name === 'N2' && (values[k] ?? 0) !== 1.2 && !Number.isNaN(values[k])),
    );
    expect(wrong).toEqual([]);
  });

  test.each([
    ['Zone1 200.3 C Zone2 210.5 C', 'Zone10.3 C Zone2 210.5 C'],
    ['T approx. 5 rpm 12', 'T approx.5 rpm 12'],
    ['pull - 5 rpm 12', 'pull -5 rpm 12'],
  ])('of “%s” does not fit “%s”', (whole, damaged) => {
    const bench = new Bench().lines(Array.from({ length: 20 }, () => whole));
    const before = bench.readings.length;
    bench.lines([damaged]);
    expect(bench.readings.length).toBe(before);
    bench.lines([whole]);
    expect(bench.readings.length).toBe(before + 1);
  });

  test('fits with fewer blanks before a number that touches no digit', () => {
    const bench = new Bench().lines(Array.from({ length: 20 }, () => 'dia=  1.75 temp: 98.5'));
    const before = bench.readings.length;
    bench.lines(['dia=1.75 temp:198.5']);
    expect(bench.readings.length).toBe(before + 1);
  });
});

describe('lines that a board only prints on change', () => {
  const printed = (gaps: readonly number[]) =>
    gaps.flatMap((gap, i) => [
      ...Array.from({ length: gap }, (_, k) => `Dia: 1.7${40 + (k % 9)}`),
      `Zone 2: 21${i % 9}.5`,
    ]);

  test('are accepted once they have come often enough, however irregularly', () => {
    const gaps = [7, 19, 11, 30, 8, 16, 25, 9, 14];
    expect(new Bench().lines(printed(gaps)).names).toContain('Zone 2');
  });

  test('are not accepted while they are as rare as damage', () => {
    const gaps = [70, 190, 110, 60, 300, 81, 160, 250, 95, 140];
    expect(new Bench().lines(printed(gaps)).names).not.toContain('Zone 2');
  });
});

describe('names of free text', () => {
  test.each([
    ['Filament .......... 1.752 mm', 'Filament'],
    ['Zone 1 ..... 199.8 C', 'Zone 1'],
    ['Zone 1 (feed) ..... 199.8 C  [SP 200]  44 %', 'Zone 1 (feed), Zone 1 (feed) SP, Zone 1 (feed) %'],
    ['Zone 1: 199.8 (target 200)', 'Zone 1, Zone 1 target'],
    ['Zone 1: 199.8 (soll 200) Zone 2: 210.1 (soll 210)', 'Zone 1, soll, Zone 2, soll 2'],
    ['温度1 199.8℃ 設定1 200℃', '温度1, 設定1'],
    ['D01752T02001S02000V0351', 'D, T, S, V'],
    ['Ø 1.752 mm ♨ 199.8 → 200.0 °C', 'Ø, ♨, ♨ /'],
  ])('of “%s”', (line, names) => {
    const bench = new Bench();
    for (let i = 0; i < 10; i++) bench.bytes(Buffer.from(`${line}\n`));
    expect(bench.names.join(', ')).toBe(names);
  });
});

describe('a page of free text', () => {
  const page = (i: number) => [
    `Filament .... 1.7${50 + (i % 9)} mm`,
    `Zone 1 .... 19${i % 9}.5 C [SP 200]`,
    `Zone 2 .... 20${i % 9}.5 C [SP 210]`,
    'Puller .... 16.9 rpm',
  ];

  test('becomes one reading', () => {
    const bench = new Bench();
    for (let i = 0; i < 20; i++) bench.lines(page(i));
    const { layout, values } = bench.reading(-1);
    expect(layout.signals.map(({ name }) => name)).toHaveLength(6);
    expect(values.every((value) => !Number.isNaN(value))).toBe(true);
    expect(bench.readings.length).toBeLessThan(30);
  });

  test('whose lines become one line again is read line by line', () => {
    const bench = new Bench();
    for (let i = 0; i < 20; i++) bench.lines(page(i));
    for (let i = 0; i < 20; i++) bench.lines([`all 1.7${50 + (i % 9)} at 200.${i % 9}`]);
    const before = bench.readings.length;
    bench.lines(['all 1.755 at 200.1']);
    expect(bench.readings.length).toBe(before + 1);
    expect(bench.reading(-1).values).toContain(1.755);
  });
});

describe('another intake on the same connection, with other settings', () => {
  const d = (i: number) => `Tjocklek: 1,7${40 + (i % 9)}`;
  const first = () => {
    const bench = new Bench();
    for (let i = 0; i < 60; i++) bench.lines([i % 10 === 0 ? 'Target 1: 200' : d(i)]);
    return bench.intake;
  };
  const roles = [
    { name: 'Tjocklek', role: 'd', factor: 1, offset: 0 },
    { name: 'Target 1', role: 's1', factor: 1, offset: 0 },
  ];

  test('reads a line at once that is printed once a minute, in its new meaning', () => {
    const { learnt } = first();
    expect(learnt.forms.forms.map(({ names }) => names)).toEqual([['Target 1'], ['Tjocklek']]);
    const bench = new Bench({ roles, learnt }).lines([d(1), 'Target 1: 200', d(2), d(3)]);
    expect(bench.intake.shape).toBe('text');
    expect(bench.names).toEqual(expect.arrayContaining(['d', 's1']));
    expect(bench.signal('s1')).toContain(200);
  });

  test('goes on counting a form that is not confirmed yet', () => {
    const rare = 'Target 1: 200';
    const lines = (count: number) => Array.from({ length: count }, (_, i) => (i % 20 === 0 ? rare : d(i)));
    const [diameter] = roles;
    const mapped = diameter === undefined ? [] : [diameter];
    const whole = new Bench({ roles: mapped }).lines(lines(200));
    const readings = whole.signal(rare.slice(0, -5)).indexOf(200);
    const { learnt } = new Bench().lines(lines(60)).intake;
    const bench = new Bench({ roles: mapped, learnt }).lines(lines(140));
    expect(readings).toBeGreaterThan(40);
    expect(bench.signal(rare.slice(0, -5)).indexOf(200)).toBeLessThan(readings - 40);
  });

  test('recognises another shape all the same', () => {
    const bench = new Bench({ roles, learnt: first().learnt });
    bench.lines(Array.from({ length: 60 }, (_, i) => `d=1.75${i % 10} t1=200.${i % 10}`));
    expect(bench.intake.shape).toBe('named');
    expect(bench.names).toContain('t1');
  });

  test('keeps to the shape that is set', () => {
    const bench = new Bench({ shape: 'named', learnt: first().learnt }).lines([
      d(1),
      d(2),
      'd=1.75',
      'd=1.76',
      'd=1.77',
    ]);
    expect(bench.intake.shape).toBe('named');
    expect(bench.names).toEqual(['d']);
  });
});
