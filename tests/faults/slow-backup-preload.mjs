/** Loaded into the service before its own code: a copy of the database holds up its thread, as a stick does that is slow to write. */
import { execFileSync } from 'node:child_process';
import Sqlite from 'better-sqlite3';

const { backup } = Sqlite.prototype;
Sqlite.prototype.backup = function (...args) {
  // Like a call of the system that hangs, it cannot be interrupted.
  execFileSync('sleep', [process.env.HELD_UP_S]);
  return backup.apply(this, args);
};
