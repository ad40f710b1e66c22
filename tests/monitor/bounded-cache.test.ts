import { expect, test } from 'vitest';
import { BoundedCache } from '../../server/monitor/bounded-cache.ts';

test('keeps the latest entries up to a total weight, and counts a replaced one once', () => {
  const cache = new BoundedCache<string>(10, (text) => text.length);
  cache.set('a', '4444');
  cache.set('b', '333');
  cache.set('a', '55555');
  expect(['a', 'b'].map((key) => cache.get(key))).toEqual(['55555', '333']);
  // The oldest goes first.
  cache.set('c', '22');
  cache.set('d', '1');
  expect(['a', 'b', 'c', 'd'].map((key) => cache.get(key))).toEqual(['55555', undefined, '22', '1']);
  // Larger than all that fits: nothing is kept, not even itself.
  cache.set('e', '12345678901');
  expect(['a', 'c', 'd', 'e'].map((key) => cache.get(key))).toEqual([undefined, undefined, undefined, undefined]);
  cache.set('f', '1');
  expect(cache.get('f')).toBe('1');
});
