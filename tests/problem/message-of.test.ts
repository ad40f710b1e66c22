import { readFileSync, renameSync } from 'node:fs';
import { createServer } from 'node:net';
import { expect, it } from 'vitest';
import { messageOf } from '../../server/problem/problem.ts';

function thrownBy(work: () => unknown): unknown {
  try {
    return work();
  } catch (thrown) {
    return thrown;
  }
}

it('leaves out what the operating system says to programs', async () => {
  expect(messageOf(thrownBy(() => readFileSync('/none')))).toBe('no such file or directory');
  expect(messageOf(thrownBy(() => readFileSync('/')))).toBe('illegal operation on a directory');
  expect(messageOf(thrownBy(() => renameSync('/none, really', '/other')))).toBe('no such file or directory');
  const refused = await new Promise((resolve) => createServer().once('error', resolve).listen(1, '192.0.2.77'));
  expect(messageOf(refused)).toBe('address not available 192.0.2.77:1');
});

it('keeps every other message', () => {
  expect(messageOf(new Error('EARLY: as written, open'))).toBe('EARLY: as written, open');
  expect(messageOf('text')).toBe('text');
});
