import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { DecimalReader } from '../../server/reading/decimal.ts';
import { FieldList } from '../../server/reading/field-list.ts';
import { FormReader } from '../../server/reading/form-reader.ts';
import { readNamed } from '../../server/reading/named-shape.ts';
import { createSimulation } from '../../simulator/index.ts';

const decimal = new DecimalReader();

function fieldsOf(line: string): FieldList | null {
  const fields = new FieldList();
  return readNamed(Buffer.from(line, 'latin1'), 0, line.length, fields, decimal) ? fields : null;
}

const figures = ({ count, separator, values, places }: FieldList) => ({
  count,
  separator,
  values: [...values.subarray(0, count)],
  places: [...places.subarray(0, count)],
});

/** The line read as one of the form that `model` has; null = it has another. */
function readLike(model: string, line: string): FieldList | null {
  const reader = new FormReader(Buffer.from(model, 'latin1'), fieldsOf(model)!);
  const fields = new FieldList();
  return reader.read(Buffer.from(line, 'latin1'), 0, line.length, fields, decimal) ? fields : null;
}

describe('a line that is read as one of the form before it', () => {
  it('gives what reading it anew gives, for every line of a simulated evening', () => {
    const simulation = createSimulation({ scenario: 'blobs-and-necks', seed: 5, rateHz: 50, checksum: false });
    let before: string | null = null;
    let alike = 0;
    for (let i = 0; i < 3000; i++) {
      const line = simulation.step().trimEnd();
      const anew = fieldsOf(line);
      if (anew === null) continue;
      if (before !== null) {
        const likeBefore = readLike(before, line);
        if (likeBefore !== null) {
          alike++;
          expect(figures(likeBefore)).toEqual(figures(anew));
        }
      }
      before = line;
    }
    expect(alike).toBeGreaterThan(2900);
  });

  it('is never taken where reading it anew would refuse it or read something else', () => {
    const number = fc.oneof(
      fc.double({ min: -1e6, max: 1e6, noNaN: true }).map((value) => value.toFixed(3)),
      fc.constantFrom('nan', '-', '1e3', '.5', '5.', '12345678901234567', '-0'),
    );
    const line = (mark: string) => fc.tuple(number, number, number).map(([a, b, c]) => `d=${a}${mark}t1:${b}, p1=${c}`);
    const model = 'd=1.75 t1:200, p1=0.4';
    const spoilt = fc
      .tuple(line(' '), fc.nat(), fc.constantFrom(' ', '=', ':', 'x', '7', ','))
      .map(([text, at, byte]) => text.slice(0, at % text.length) + byte + text.slice((at % text.length) + 1));
    fc.assert(
      fc.property(fc.oneof(line(' '), line('\t'), line('  '), spoilt), (text) => {
        const likeModel = readLike(model, text);
        if (likeModel === null) return;
        const anew = fieldsOf(text);
        expect(anew).not.toBeNull();
        expect(figures(likeModel)).toEqual(figures(anew!));
        // The names and what stands between them are those of the model.
        expect(text.replace(/(?<=[=:])[^ ,\t]+/g, '#')).toBe(model.replace(/(?<=[=:])[^ ,\t]+/g, '#'));
      }),
      { numRuns: 2000 },
    );
  });

  it('tells other names, other separators, a field more or less, and an empty value apart', () => {
    const model = 'd=1.75 t1=200.1';
    for (const other of [
      'd=1.75 t2=200.1',
      'd=1.75\tt1=200.1',
      'd:1.75 t1=200.1',
      'd=1.75',
      'd=1.75 t1=200.1 p1=0.4',
      'd=1.75 t1=',
      'd=1.75 t1=200.1 ',
      ' d=1.75 t1=200.1',
      '',
    ])
      expect(readLike(model, other)).toBeNull();
  });
});
