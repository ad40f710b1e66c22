import { Type } from 'typebox';
import { describe, expect, it } from 'vitest';
import { compileWriter } from '../../server/api/answer-writer.ts';
import { CONTRACT } from '../../server/api/contract/index.ts';
import { LiveFrame } from '../../server/api/contract/live.ts';
import { type RouteSpec, successesOf } from '../../server/api/contract/route-table.ts';
import { int, list, num, numOrNull, oneOf, orNull, text } from '../../server/api/contract/schema.ts';

const written = (schema: object, value: unknown) => JSON.parse(compileWriter(schema)(value)) as unknown;

describe('the writer of answers', () => {
  it('rounds each number to the decimals of its schema', () => {
    const schema = Type.Object({ mm: num({ digits: 3 }), s: num(), count: int(), list: list(num({ digits: 1 })) });
    expect(written(schema, { mm: 1.23456, s: 1.23456, count: 2.6, list: [0.06, -0.04, 1e300] })).toEqual({
      mm: 1.235,
      s: 1.23456,
      count: 3,
      list: [0.1, 0, 1e300],
    });
    expect(compileWriter(num({ digits: 1 }))(1_700_000_000_123.45)).toBe('1700000000123.5');
  });

  it.each([Number.NaN, Number.POSITIVE_INFINITY, Number.NEGATIVE_INFINITY, null, undefined])(
    'writes %s as null where null is allowed, and refuses it elsewhere',
    (value) => {
      expect(written(Type.Object({ mm: numOrNull({ digits: 2 }) }), { mm: value })).toEqual({ mm: null });
      expect(() => written(Type.Object({ mm: num({ digits: 2 }) }, { $id: 'Place' }), { mm: value })).toThrow(
        'Place.mm must be a number',
      );
    },
  );

  it('keeps only the fields of the schema, and leaves out optional ones that are not there', () => {
    const schema = Type.Object({ a: Type.Optional(text()), b: Type.Optional(text()), c: orNull(text()) });
    expect(written(schema, { b: 'so', c: null, secret: 'key' })).toEqual({ b: 'so', c: null });
    expect(written(Type.Object({ a: Type.Optional(text()) }), {})).toEqual({});
    expect(written(Type.Object({}), { secret: 'key' })).toEqual({});
  });

  it.each(['plain', 'ö € 🙂', '"quoted" \\ back', 'a\nb\u0000', '\ud800 alone', ''])('writes the text %j', (value) => {
    expect(written(text(), value)).toBe(JSON.parse(JSON.stringify(value)));
  });

  it('tells the branches of a union by type, or by the constant that names them', () => {
    const pace = Type.Union([num({ digits: 1 }), Type.Literal('max')]);
    expect(written(pace, 'max')).toBe('max');
    expect(written(pace, 2.04)).toBe(2);
    expect(() => written(pace, 'min')).toThrow(TypeError);
    const shape = Type.Union([
      Type.Object({ kind: Type.Literal('round'), mm: num({ digits: 0 }) }),
      Type.Object({ kind: Type.Literal('flat'), sides: list(int()) }),
    ]);
    expect(written(shape, { kind: 'flat', sides: [1, 2], mm: 3 })).toEqual({ kind: 'flat', sides: [1, 2] });
    expect(() => compileWriter(Type.Union([Type.Object({ a: text() }), Type.Object({ b: text() })]))).toThrow(
      'the branches of this union cannot be distinguished',
    );
  });

  it('writes records, typed arrays and what has no schema', () => {
    expect(written(Type.Record(Type.String(), num({ digits: 1 })), { 'a"b': 1.26 })).toEqual({ 'a"b': 1.3 });
    expect(written(list(numOrNull({ digits: 1 })), Float64Array.of(1.26, Number.NaN))).toEqual([1.3, null]);
    expect(written(Type.Unknown(), { any: ['thing'] })).toEqual({ any: ['thing'] });
    expect(written(oneOf(['a', 'b']), 'a')).toBe('a');
  });

  it('can write every answer of the contract', () => {
    const schemas = Object.values(CONTRACT).flatMap((spec: RouteSpec) =>
      successesOf(spec).flatMap(({ schema }) => schema ?? []),
    );
    expect(schemas.length).toBeGreaterThan(30);
    for (const schema of [...schemas, LiveFrame]) expect(() => compileWriter(schema)).not.toThrow();
  });
});
