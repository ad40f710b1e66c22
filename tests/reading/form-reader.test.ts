import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { DecimalReader } from '../../server/reading/decimal.ts';
import { FieldList } from '../../server/reading/field-list.ts';
import { FormReader } from '../../server/reading/form-reader.ts';
import { readNamed } from '../../server/reading/named-shape.ts';
import { createSimulation } from '../../simulator/index.ts';

const decimal = new DecimalReader();

/** The line as its shape's reader reads it; null = it cannot be read. */
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

/** The line read by the form of `model`; null = it has another form. */
function readLike(model: string, line: string): FieldList | null {
  const modelFields = fieldsOf(model);
  if (modelFields === null) throw new TypeError(`“${model}” is not of the named shape`);
  const reader = new FormReader(Buffer.from(model, 'latin1'), modelFields);
  const fields = new FieldList();
  return reader.read(Buffer.from(line, 'latin1'), 0, line.length, fields, decimal) ? fields : null;
}

describe('a line read by the form of the line before', () => {
  it('has the same fields as without it, for every line of a simulated evening', () => {
    const simulation = createSimulation({ scenario: 'blobs-and-necks', seed: 5, rateHz: 50, checksum: false });
    let before: string | null = null;
    let sameForm = 0;
    for (let i = 0; i < 3000; i++) {
      const line = simulation.step().trimEnd();
      const full = fieldsOf(line);
      if (full === null) continue;
      if (before !== null) {
        const quick = readLike(before, line);
        if (quick !== null) {
          sameForm++;
          expect(figures(quick)).toEqual(figures(full));
        }
      }
      before = line;
    }
    expect(sameForm).toBeGreaterThan(2900);
  });

  it('is only accepted if its shape accepts it with the same fields', () => {
    const number = fc.oneof(
      fc.double({ min: -1e6, max: 1e6, noNaN: true }).map((value) => value.toFixed(3)),
      fc.constantFrom('nan', '-', '1e3', '.5', '5.', '12345678901234567', '-0'),
    );
    const line = (mark: string) => fc.tuple(number, number, number).map(([a, b, c]) => `d=${a}${mark}t1:${b}, p1=${c}`);
    const model = 'd=1.75 t1:200, p1=0.4';
    const damaged = fc
      .tuple(line(' '), fc.nat(), fc.constantFrom(' ', '=', ':', 'x', '7', ','))
      .map(([text, at, byte]) => text.slice(0, at % text.length) + byte + text.slice((at % text.length) + 1));
    fc.assert(
      fc.property(fc.oneof(line(' '), line('\t'), line('  '), damaged), (text) => {
        const quick = readLike(model, text);
        if (quick === null) return;
        const full = fieldsOf(text);
        expect(full && figures(full)).toEqual(figures(quick));
        // The names and separators are those of the model.
        expect(text.replace(/(?<=[=:])[^ ,\t]+/g, '#')).toBe(model.replace(/(?<=[=:])[^ ,\t]+/g, '#'));
      }),
      { numRuns: 2000 },
    );
  });

  it('is refused with other names or separators, another number of fields, or an empty value', () => {
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
