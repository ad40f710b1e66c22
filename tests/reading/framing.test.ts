import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { Bench, boardLine, boardLines, checked, START_MS } from './intake-bench.ts';

describe('framing', () => {
  test('lines end in LF or CRLF', () => {
    const lines = boardLines(6).map(checked);
    const bench = new Bench().text(lines.map((line, i) => line + (i % 2 === 0 ? '\n' : '\r\n')).join(''));
    expect(bench.readings).toHaveLength(6);
    expect(bench.dropped).toEqual([]);
  });

  test('a doubled carriage return, as terminal drivers send it, loses no line', () => {
    const bench = new Bench().text(boardLines(4).map(checked).join('\r\r\n').concat('\r\r\n'));
    expect(bench.readings).toHaveLength(4);
  });

  test('a line of 512 bytes is read with LF and with CRLF, in one chunk and byte by byte', () => {
    const pad = (line: string) => checked(line.padEnd(509, ' '));
    for (const end of ['\n', '\r\n']) {
      const text = boardLines(3).map(pad).join(end) + end;
      expect(pad('d=1').length).toBe(512);
      expect(new Bench().text(text).readings).toHaveLength(3);
      const bench = new Bench();
      for (const character of text) bench.text(character);
      expect(bench.readings).toHaveLength(3);
    }
  });

  test('a line of more than 512 bytes is dropped as a whole, and reading continues at the next LF', () => {
    const [first = '', second = '', third = ''] = boardLines(3).map(checked);
    const long = `d=1.9 ${'x'.repeat(507)}`;
    expect(long.length).toBe(513);
    const bench = new Bench().lines([first, long, second, 'y'.repeat(100_000), third]);
    expect(bench.causes()).toEqual(['tooLong', 'tooLong']);
    expect(bench.dropped.map(({ raw }) => raw.length)).toEqual([512, 512]);
    expect(bench.intake.counters().dropped.tooLong).toBe(2);
    expect(bench.readings).toHaveLength(3);
  });

  test('a megabyte without a line end is one dropped line', () => {
    const bench = new Bench();
    for (let i = 0; i < 1024; i++) bench.bytes(new Uint8Array(1024).fill(85));
    bench.lines(['', ...boardLines(3).map(checked)]);
    expect(bench.causes()).toEqual(['tooLong']);
    expect(bench.readings).toHaveLength(3);
  });

  test('bytes outside printable ASCII drop the line', () => {
    const lines = boardLines(5).map(checked);
    for (const byte of [0, 7, 13, 27, 127, 128, 255]) {
      const damaged = Buffer.from(`${boardLine(2)} x`, 'latin1');
      damaged[damaged.length - 2] = byte;
      const bench = new Bench().lines(lines.slice(0, 2));
      bench.bytes(Buffer.concat([damaged, Buffer.from('\n')])).lines(lines.slice(3));
      expect(bench.causes()).toEqual(['notAscii']);
      expect(bench.readings).toHaveLength(4);
    }
  });

  test('a tab is a separator, not garbage', () => {
    const bench = new Bench().lines(boardLines(4).map((line) => checked(line.replaceAll(' ', '\t'))));
    expect(bench.signal('t1')).toHaveLength(4);
  });

  test('empty lines are not counted', () => {
    const bench = new Bench().text(`\n\r\n  \n${boardLines(3).map(checked).join('\n\n')}\n`);
    expect(bench.intake.counters()).toMatchObject({ received: 3, readings: 3 });
  });

  test('a source may reuse the memory of a chunk', () => {
    const bench = new Bench();
    const chunk = Buffer.alloc(64);
    for (let i = 0; i < 5; i++) {
      const line = `${' '.repeat(i)}{"ms":${1000 + i * 20},"d":1.75${i}}\n`;
      chunk.write(line, 'latin1');
      bench.bytes(chunk.subarray(0, line.length));
      chunk.fill(0);
    }
    expect(bench.readings).toHaveLength(5);
  });

  test('the readings do not depend on how the bytes are split into chunks', () => {
    const text = [
      '# banner of the board',
      ...boardLines(4).map(checked),
      'z'.repeat(600),
      'ms=1 n=\u00ff',
      ...boardLines(4, 4).map(checked),
      'd=1.9*00',
    ].join('\r\n');
    const bytes = Buffer.from(`${text}\n`, 'latin1');
    const whole = new Bench().bytes(bytes);
    expect(whole.readings).toHaveLength(8);
    fc.assert(
      fc.property(fc.array(fc.integer({ min: 0, max: bytes.length }), { maxLength: 40 }), (cuts) => {
        const bench = new Bench();
        const places = [0, ...cuts.sort((a, b) => a - b), bytes.length];
        for (let i = 1; i < places.length; i++) bench.bytes(bytes.subarray(places[i - 1], places[i]));
        expect(bench.readings).toEqual(whole.readings);
        expect(bench.dropped).toEqual(whole.dropped);
        expect(bench.intake.counters()).toEqual(whole.intake.counters());
      }),
      { numRuns: 100 },
    );
  });
});

describe('the first line of a connection', () => {
  test('is ignored without a checksum on a live cable, because it may be incomplete', () => {
    const bench = new Bench().lines(boardLines(5), START_MS);
    expect(bench.readings).toHaveLength(4);
    expect(bench.intake.counters()).toMatchObject({ received: 4, readings: 4 });
  });

  test('is read with a correct checksum on a live cable', () => {
    const bench = new Bench().lines(boardLines(5).map(checked), START_MS);
    expect(bench.readings).toHaveLength(5);
  });

  test('is kept if it is a note', () => {
    const bench = new Bench().lines(['# board 1', ...boardLines(3)], START_MS);
    expect(bench.notes).toEqual([{ text: 'board 1', timeMs: START_MS }]);
    expect(bench.readings).toHaveLength(3);
  });

  test('is read in a recorded log, where it is whole', () => {
    const bench = new Bench().lines(boardLines(5));
    expect(bench.signal('d')).toHaveLength(5);
  });

  test('is not joined to an incomplete line of the old connection', () => {
    const line = (i: number) => checked(boardLine(i));
    const bench = new Bench().text(`${line(0)}\n${line(1)}\n${line(2).slice(0, 9)}`, START_MS);
    bench.intake.opened();
    bench.text(`${line(3).slice(11)}\n${line(4)}\n${line(5)}\n`, START_MS + 1000);
    expect(bench.readings).toHaveLength(4);
    expect(bench.dropped).toEqual([]);
  });

  test('leaves the signals in their columns', () => {
    const bench = new Bench().lines(boardLines(4).map(checked));
    expect(bench.names).toEqual(['d', 't1']);
    bench.intake.opened();
    bench.lines(boardLines(4, 4, () => ' v=35.2').map(checked));
    expect(bench.names).toEqual(['d', 't1', 'v']);
  });
});
