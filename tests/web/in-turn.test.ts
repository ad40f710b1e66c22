import { afterEach, beforeEach, expect, it, vi } from 'vitest';
import { inTurn } from '../../web/shell/in-turn.ts';

beforeEach(() => void vi.useFakeTimers());
afterEach(() => void vi.useRealTimers());

it('calls each in a task of its own, in order, also one that comes later', () => {
  const shown: string[] = [];
  inTurn(() => shown.push('zones'));
  inTurn(() => shown.push('link'));
  expect(shown).toEqual([]);
  vi.advanceTimersToNextTimer();
  expect(shown).toEqual(['zones']);
  inTurn(() => shown.push('log'));
  vi.advanceTimersToNextTimer();
  expect(shown).toEqual(['zones', 'link']);
  vi.advanceTimersToNextTimer();
  expect(shown).toEqual(['zones', 'link', 'log']);
  expect(vi.getTimerCount()).toBe(0);
});

it('leaves out what was left before its turn, and goes on after one that throws', () => {
  const shown: string[] = [];
  const leave = inTurn(() => shown.push('left'));
  inTurn(() => {
    throw new Error('made up');
  });
  inTurn(() => shown.push('last'));
  leave();
  expect(() => vi.runAllTimers()).toThrow('made up');
  vi.runAllTimers();
  expect(shown).toEqual(['last']);
});
