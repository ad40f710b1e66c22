/** What the source does not contain, so that no input can become code, a command or markup. */
import { execFileSync } from 'node:child_process';
import { readFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { expect, it } from 'vitest';

const ROOT = fileURLToPath(new URL('../..', import.meta.url));
const sources = execFileSync('git', ['ls-files', 'server', 'web'], { cwd: ROOT, encoding: 'utf8' })
  .split('\n')
  .filter((path) => /\.(?:ts|tsx|js)$/.test(path));

/** Files that match, apart from those that may. */
function using(pattern: RegExp, allowed: readonly string[] = []): string[] {
  const found = sources.filter((path) => pattern.test(readFileSync(ROOT + path, 'utf8')));
  for (const path of allowed) expect(found, 'an exception that is not needed any more').toContain(path);
  return found.filter((path) => !allowed.includes(path));
}

it('text never becomes code, except the schemas of our own answers', () => {
  expect(sources.length).toBeGreaterThan(500);
  expect(using(/\beval\(|\bnew Function\(|node:vm|setTimeout\(['"`]/, ['server/api/answer-writer.ts'])).toEqual([]);
});

it('no other programs are started than systemd-notify, and systemctl by the command that adds a line; none by a shell', () => {
  const allowed = ['server/command/line-file.ts', 'server/command/systemd-notify.ts'];
  expect(using(/node:child_process/, allowed)).toEqual([]);
  expect(using(/\bexec(Sync)?\b[^}]*\} from 'node:child_process'|shell: true/)).toEqual([]);
});

it('text never becomes markup', () => {
  expect(using(/innerHTML|outerHTML|insertAdjacentHTML|document\.write|dangerouslySet/)).toEqual([]);
});

it('no secret is drawn from a weak source of chance', () => {
  expect(using(/Math\.random\(\)/)).toEqual([]);
});

it('no wait ends by a signal that Node may collect as garbage before it fires', () => {
  expect(using(/AbortSignal\.any\(/)).toEqual([]);
});
