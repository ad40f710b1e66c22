import type Sqlite from 'better-sqlite3';
import { messageOf, Problem } from '../problem/problem.ts';

/** Earlier versions have a rare race of two connections that can damage a WAL database. */
const ENGINE_MIN = '3.51.3';

export function checkEngine(db: Sqlite.Database): void {
  const version = String(db.prepare('SELECT sqlite_version()').pluck().get());
  if (rankOf(version) < rankOf(ENGINE_MIN)) {
    throw new Problem(
      'database-unusable',
      `The SQLite engine ${version} is older than ${ENGINE_MIN} and could damage the database.`,
      'Install the versions in package-lock.json: npm ci.',
    );
  }
}

/** Of versions such as 3.51.3: the later, the higher. */
function rankOf(version: string): number {
  return version.split('.').reduce((rank, part) => rank * 1000 + Number(part), 0);
}

/** The engine is a compiled module, which an installation without scripts or another Node leaves out or cannot load. */
const NOT_LOADED = new Set(['ERR_DLOPEN_FAILED', 'MODULE_NOT_FOUND']);

/** null = the error has another cause than an engine that cannot be loaded. */
export function missingEngine(thrown: unknown): Problem | null {
  if (!(thrown instanceof Error)) return null;
  const isMissing = 'tries' in thrown;
  if (!isMissing && !NOT_LOADED.has(String('code' in thrown ? thrown.code : ''))) return null;
  const why = isMissing ? 'its compiled module is missing' : messageOf(thrown).split('\n')[0]!.replace(/[.:]$/, '');
  return new Problem(
    'database-unusable',
    `The SQLite engine cannot be loaded: ${why}.`,
    `Run npm rebuild better-sqlite3 with this Node (${process.version}) where Strandward is installed, or install it again, with install scripts. Nothing of the record was changed.`,
    { cause: thrown },
  );
}
