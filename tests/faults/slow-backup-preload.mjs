/** Loaded into the service before its own code: what is written into the folder of the backups holds up its thread, as a stick does that is slow to write. */
import { execFileSync } from 'node:child_process';
import fs from 'node:fs';
import { syncBuiltinESMExports } from 'node:module';
import Sqlite from 'better-sqlite3';

/** Like a call of the system that hangs, it cannot be interrupted. */
const holdUp = (path) => {
  if (path.startsWith(process.env.HELD_UP)) execFileSync('sleep', [process.env.HELD_UP_S]);
};

const { backup } = Sqlite.prototype;
Sqlite.prototype.backup = function (to, ...options) {
  // A copy reads all pages in one transaction.
  this.exec('BEGIN');
  this.prepare('SELECT count(*) FROM sqlite_schema').get();
  holdUp(to);
  this.exec('COMMIT');
  return backup.call(this, to, ...options);
};

const { renameSync } = fs;
fs.renameSync = (from, to) => {
  holdUp(to);
  renameSync(from, to);
};
syncBuiltinESMExports();
