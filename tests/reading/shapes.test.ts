import { describe, expect, test } from 'vitest';
import { Bench, boardLines, checked, START_MS } from './intake-bench.ts';

/** Lines with equal values and a running clock. */
function repeat(count: number, line: (ms: number, n: number) => string): string[] {
  return Array.from({ length: count }, (_, i) => line(12_340 + 20 * i, 617 + i));
}

describe('the named shape', () => {
  test('is recognised automatically', () => {
    const bench = new Bench().lines(
      repeat(4, (ms, n) => checked(`ms=${ms} n=${n} d=1.752 t1=201.4 s1=200 p1=0.45 v=35.2`)),
    );
    expect(bench.intake.shape).toBe('named');
    expect(bench.reading(0).layout.signals).toEqual([
      { name: 'd', role: 'd', unit: 'mm' },
      { name: 't1', role: 't1', unit: '°C' },
      { name: 's1', role: 's1', unit: '°C' },
      { name: 'p1', role: 'p1', unit: '' },
      { name: 'v', role: 'v', unit: 'mm/s' },
    ]);
    expect(bench.reading(0).values).toEqual([1.752, 201.4, 200, 0.45, 35.2]);
    expect(bench.reading(0).layout).toMatchObject({ diameter: 0, speed: 4, lengthCounter: -1, turns: -1 });
    expect(bench.reading(0).layout.zones).toEqual([{ zone: 1, temperature: 1, setpoint: 2, power: 3, fault: -1 }]);
  });

  test.each([
    ['name=value and blanks', 'd=1.75 t1=200'],
    ['name:value and commas', 'd:1.75,t1:200'],
    ['tabs', 'd=1.75\tt1=200'],
    ['any mixture of separators', ' d:1.75, \t t1=200 '],
  ])('fields may be %s', (_, line) => {
    expect(new Bench().lines([line, line, line]).readings.map((reading) => reading.values)).toEqual([
      [1.75, 200],
      [1.75, 200],
      [1.75, 200],
    ]);
  });

  test.each([
    'd=1.75mm t1=200',
    'd=1.75 t1',
    'd=1.75 200',
    'd=1.75=2 t1=200',
    '=1.75 t1=3',
    'd=1.7 5t1=200',
    'd=20ms=1',
  ])('a line that does not completely match is unreadable: %s', (line) => {
    const bench = new Bench().lines([...boardLines(5).map(checked), line]);
    expect(bench.causes()).toEqual(['unreadable']);
  });

  test('an unknown name is kept as a free signal', () => {
    const bench = new Bench().lines(boardLines(3, 0, () => ' fan=0.80').map(checked));
    expect(bench.intake.layout.signals.at(-1)).toEqual({ name: 'fan', role: null, unit: '' });
    expect(bench.signal('fan')).toEqual([0.8, 0.8, 0.8]);
  });
});

describe('the json shape', () => {
  test('is recognised automatically', () => {
    const bench = new Bench().lines(repeat(4, (ms, n) => `{"ms":${ms},"n":${n},"d":1.752,"t1":201.4}`));
    expect(bench.intake.shape).toBe('json');
    expect(bench.readings).toHaveLength(4);
    expect(bench.reading(3).values).toEqual([1.752, 201.4]);
  });

  test('may have blanks, gaps, quoted numbers and a checksum', () => {
    const line = '{ "d" : 1.752, "t1":null ,"v":"35.2", "x": nan, "y":"", "z":-1.5e-3 }';
    const bench = new Bench().lines([checked(line), checked(line)]);
    expect(bench.reading(1).values).toEqual([1.752, Number.NaN, 35.2, Number.NaN, Number.NaN, -0.0015]);
  });

  test.each([
    '{"d":1.75',
    '{"d":1.75}}',
    '{"d":1.75,}',
    '{"d":"wide"}',
    '{"d":true}',
    '{"d":{}}',
    '{"d":[1,]}',
    '{d:1.75}',
    '{}',
    '{"\\u0064":1}',
  ])('anything but an object with numbers is unreadable: %s', (line) => {
    const bench = new Bench().lines([...repeat(4, (ms) => `{"ms":${ms},"d":1.75}`), line]);
    expect(bench.causes()).toEqual(['unreadable']);
  });

  test('keeps long paths apart that end alike, and refuses one that comes twice', () => {
    const member = (value: number) => `{"measured_by_the_sensor":{"temperature_in_degrees":${value}}}`;
    const line = (second: string) => `{"first_barrel_zone":${member(198)},"${second}":${member(209)}}`;
    const bench = new Bench().lines(Array.from({ length: 6 }, () => line('second_barrel_zone')));
    expect(bench.names).toHaveLength(2);
    expect(Math.max(...bench.names.map(({ length }) => length))).toBeLessThanOrEqual(40);
    expect([...bench.reading(-1).values]).toEqual([198, 209]);
    const twice = new Bench().lines(Array.from({ length: 6 }, () => line('first_barrel_zone')));
    expect(twice.readings).toEqual([]);
  });

  test('may omit trailing zeros', () => {
    const lines = repeat(200, (ms) => `{"ms":${ms},"d":${ms === 12_340 + 20 * 150 ? 1.7 : 1.751}}`);
    expect(new Bench().lines(lines).readings).toHaveLength(200);
  });
});

describe('the columns shape', () => {
  const rows = (separator: string) => ['1.752', '201.4', '200'].join(separator);

  test.each([
    ['a comma', ','],
    ['a semicolon', ';'],
    ['a blank', ' '],
    ['a tab', '\t'],
    ['a comma and a blank', ', '],
    ['several blanks', '   '],
  ])('is recognised automatically with %s, and named by a header line', (_, separator) => {
    const bench = new Bench().lines([['d', 't1', 's1'].join(separator), ...Array(4).fill(rows(separator))]);
    expect(bench.intake.shape).toBe('columns');
    expect(bench.signal('t1')).toEqual([201.4, 201.4, 201.4, 201.4]);
    expect(bench.notes).toHaveLength(1);
  });

  test.each(['latin1', 'utf8'] as const)('may have titles beyond ASCII, in %s', (encoding) => {
    const bench = new Bench().bytes(Buffer.from('Länge;Ø;Düse\n', encoding === 'utf8' ? 'utf8' : 'latin1'));
    bench.lines(Array(4).fill(rows(';')), START_MS);
    expect(bench.names[0]).toBe('Länge');
    expect(bench.names[2]).toBe('Düse');
    expect(bench.causes()).toEqual([]);
  });

  test('takes its titles from the first line of a live cable, which no board prints again', () => {
    const bench = new Bench().lines(['d;t1;s1', ...Array(4).fill(rows(';'))], START_MS);
    expect(bench.names).toEqual(['d', 't1', 's1']);
    expect(bench.notes).toEqual([{ text: 'd;t1;s1', timeMs: START_MS }]);
  });

  test('takes no values from the first line of a live cable, and no titles from the end of one', () => {
    const bench = new Bench().lines(['1;s1', ...Array(4).fill(rows(';'))], START_MS);
    expect(bench.names).toEqual(['column1', 'column2', 'column3']);
    expect(bench.readings).toHaveLength(4);
  });

  test('takes its names from the settings', () => {
    const bench = new Bench({ columnNames: ['d', 't1', 's1'] }).lines(Array(3).fill(rows(',')));
    expect(bench.signal('s1')).toEqual([200, 200, 200]);
  });

  test('prefers the names of the settings to those of a header', () => {
    const bench = new Bench({ columnNames: ['d', 't1', 's1'] }).lines(['a,b,c', ...Array(3).fill(rows(','))]);
    expect(bench.names).toEqual(['d', 't1', 's1']);
  });

  test('is implausible with another number of columns than the settings have', () => {
    const bench = new Bench({ columnNames: ['d', 't1'] }).lines(Array(3).fill(rows(',')));
    expect(bench.causes()).toEqual(['implausible', 'implausible', 'implausible']);
  });

  test('has numbered columns without names, so that they can be mapped', () => {
    const roles = [{ name: 'column1', role: 'd', factor: 1, offset: 0 }];
    const bench = new Bench({ roles }).lines(Array(3).fill(rows(' ')));
    expect(bench.names).toEqual(['d', 'column2', 'column3']);
  });

  test('may have decimal commas between semicolons or tabs', () => {
    for (const separator of [';', '\t']) {
      const bench = new Bench().lines([`d${separator}t1`, ...Array(3).fill(`1,752${separator}201,4`)]);
      expect(bench.reading(2).values).toEqual([1.752, 201.4]);
    }
  });

  test('has a gap where a column is empty', () => {
    const bench = new Bench().lines(['d,t1,s1', '1.75,,200', '1.75,,200', ',201.4,']);
    expect(bench.signal('t1')).toEqual([Number.NaN, Number.NaN, 201.4]);
    expect(bench.signal('d')).toEqual([1.75, 1.75, Number.NaN]);
  });

  test('is implausible in part of a line', () => {
    const bench = new Bench().lines(['d,t1,s1', ...Array(5).fill(rows(',')), '1.752,201.4', '752,201.4,200,1']);
    expect(bench.causes()).toEqual(['implausible', 'implausible']);
    expect(bench.readings).toHaveLength(5);
  });

  test('never accepts another number of columns between others; ten in a row are a new sketch', () => {
    const bench = new Bench().lines(['d,t1,s1', ...Array(20).fill(rows(','))]);
    for (let i = 0; i < 30; i++) bench.lines([...Array(9).fill('1.752,201.4'), rows(',')]);
    expect(bench.readings).toHaveLength(20 + 30);
    bench.lines(Array(20).fill('1.752,201.4'));
    expect(bench.readings).toHaveLength(50 + 10);
  });

  test('is recognised after a greeting with commas', () => {
    const bench = new Bench().lines(['Extruder, ready', ...Array(3).fill('1 2 3')]);
    expect(bench.readings).toHaveLength(3);
  });

  test('takes no names from a sentence of plain text', () => {
    const bench = new Bench().lines(['Heater is ready', ...Array(3).fill('1 2 3')]);
    expect(bench.names).toEqual(['column1', 'column2', 'column3']);
    expect(bench.causes()).toEqual(['unreadable']);
  });

  test('takes no names from a damaged header', () => {
    const bench = new Bench().lines(['d,t1,s1', ...Array(3).fill(rows(',')), 'd,q1,s1', ...Array(3).fill(rows(','))]);
    expect(bench.signal('t1')).toEqual(Array(6).fill(201.4));
  });

  test('takes new names from a new header of the board', () => {
    const bench = new Bench().lines(['d,t1,s1', ...Array(3).fill(rows(',')), 'd,t1,v', ...Array(3).fill(rows(','))]);
    expect(bench.signal('v')).toEqual([Number.NaN, Number.NaN, Number.NaN, 200, 200, 200]);
  });
});

describe('the shape', () => {
  test('can be set: a valid line of another shape has the wrong shape', () => {
    const bench = new Bench({ shape: 'named' }).lines(repeat(3, (ms) => `{"ms":${ms},"d":1.75}`));
    expect(bench.causes()).toEqual(['wrongShape', 'wrongShape', 'wrongShape']);
    expect(bench.intake.shape).toBe('named');
  });

  test('is recognised despite garbage before the first valid line', () => {
    const bench = new Bench().lines(['1,2', 'x=', ...boardLines(3), '3,4']);
    expect(bench.intake.shape).toBe('named');
    expect(bench.readings).toHaveLength(3);
  });

  test('is recognised again after a new sketch', () => {
    const bench = new Bench().lines(boardLines(20)).lines(repeat(20, (ms) => `{"ms":${ms},"d":1.75}`));
    expect(bench.intake.shape).toBe('json');
    expect(bench.readings).toHaveLength(20 + 10);
    expect(bench.intake.counters().dropped.wrongShape).toBe(10);
  });

  test.each([
    ['in the same place', (line: string) => `d=9${line}`],
    ['twice as long', (line: string) => `${line}${line}`],
  ])('is the same again after a second of lines that were joined, %s', (_what, joined) => {
    const bench = new Bench();
    const line = (n: number) => `ms=${n * 20} n=${n} d=1.750 len=${n * 2} v=100`;
    const send = (from: number, to: number, form: (line: string) => string) => {
      for (let n = from; n < to; n++) bench.text(`${form(line(n))}\n`, START_MS + n * 20);
    };
    send(0, 100, (good) => good);
    send(100, 150, joined);
    send(150, 250, (good) => good);
    expect(bench.intake.shape).toBe('named');
    expect(bench.reading(-1).layout.signals).toContainEqual({ name: 'd', role: 'd', unit: 'mm' });
    expect(bench.readings.length).toBeGreaterThan(99 + 80);
  });

  test('does not matter for notes, which are logged and never measured', () => {
    const bench = new Bench().lines(['# board 1.2', '#d=1.9 t1=300', ...boardLines(3), checked('# sensor 2 open')]);
    expect(bench.notes.map((note) => note.text)).toEqual(['board 1.2', 'd=1.9 t1=300', 'sensor 2 open']);
    expect(bench.readings).toHaveLength(3);
    expect(bench.intake.counters()).toMatchObject({ received: 6, notes: 3, readings: 3 });
  });

  test('does not matter for the last line, which is shown as received', () => {
    const bench = new Bench().lines(boardLines(3)).text('d=\u0001what\n');
    expect(bench.intake.lastLine).toBe('d=·what');
  });
});
