import { describe, expect, it } from 'vitest';
import { namesIn, pointerTo } from '../../server/problem/pointer.ts';
import { Problem, within } from '../../server/problem/problem.ts';

describe('a JSON pointer', () => {
  it.each([
    // RFC 6901, section 5: the examples with one name.
    ['/foo/0', ['foo', '0']],
    ['/', ['']],
    ['/a~1b', ['a/b']],
    ['/c%d', ['c%d']],
    ['/m~0n', ['m~n']],
    ['/~01', ['~1']],
    ['', []],
  ])('%j consists of %j', (pointer, names) => {
    expect(namesIn(pointer)).toEqual(names);
    expect(pointerTo(...names)).toBe(pointer);
  });
});

describe('a problem', () => {
  const problem = new Problem('bad-name', 'The printer has no name.', 'Give it one.', { pointer: '/name' });
  const refuse = (pointer: string | null) => () => {
    throw new Problem('bad-setting', 'It is wrong.', 'Correct it.', { pointer });
  };

  it('survives the transfer to another thread', () => {
    const there = Problem.of(structuredClone(problem.parts));
    expect(there).toBeInstanceOf(Problem);
    expect(there.parts).toEqual(problem.parts);
  });

  it.each([
    ['/settings', '/url', '/settings/url'],
    ['/source', null, '/source'],
    [null, '/hotendLimitMm', null],
  ])('within %j points from the whole request', (part, own, pointer) => {
    expect(() => within(part, refuse(own))).toThrow(expect.objectContaining({ code: 'bad-setting', pointer }));
  });

  it('is not made from other errors', () => {
    const mistake = new TypeError('not a function');
    expect(() =>
      within('/settings', () => {
        throw mistake;
      }),
    ).toThrow(mistake);
  });
});
