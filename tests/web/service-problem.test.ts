import { expect, it } from 'vitest';
import { problemOf } from '../../web/service/request.ts';

it('a problem of the service is told in its words, but the access key is asked of a person, not of a program', () => {
  const details = (title: string, detail: string) => JSON.stringify({ title, detail });
  expect(problemOf(409, details('A drill is under way.', 'Wait until it is over.'))).toMatchObject({
    message: 'A drill is under way.',
    detail: 'Wait until it is over.',
  });
  const key = problemOf(401, details('The access key is missing.', 'Send it as “Authorization: Bearer KEY”.'));
  expect(`${key.message} ${key.detail}`).not.toMatch(/Bearer|Send/);
  expect(key).toMatchObject({ status: 401, detail: 'Enter it where the page asks for it.' });
  expect(problemOf(502, '<html>bad gateway</html>').message).toBe('The service answered with status 502.');
});
