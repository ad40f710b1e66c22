/** Loaded into the service before its own code: a copy of the database holds up its thread, as a stick does that is slow to write. */
import Sqlite from 'better-sqlite3';

const HELD_UP_MS = 4000;

const { backup } = Sqlite.prototype;
Sqlite.prototype.backup = function (...args) {
  Atomics.wait(new Int32Array(new SharedArrayBuffer(4)), 0, 0, HELD_UP_MS);
  return backup.apply(this, args);
};
