import type { Database } from 'better-sqlite3';
import { RIGHTS, type Right } from '../../entities/device.ts';
import type { IdentityStore, StoredCredential } from '../../identity/identity-store.ts';
import { guardedAt } from '../record-failing.ts';
import { requireUnits } from './stored-shapes.ts';
import type { UnreadableRows } from './unreadable-rows.ts';

interface Row {
  readonly id: number;
  readonly kind: string;
  readonly name: string;
  readonly heldRight: string;
  readonly digest: Buffer;
  readonly createdMs: number;
  readonly createdBy: string;
  readonly lastSeenMs: number | null;
}

/**
 * Devices and tokens.
 * @param path of the database, for error messages
 * @throws RecordFailing if the disk is full or fails
 */
export function credentialTable(db: Database, path: string, unreadable: UnreadableRows): IdentityStore {
  const all = db.prepare<[], Row>(
    `SELECT id, kind, name, held_right AS heldRight, digest, created_ms AS createdMs, created_by AS createdBy,
            last_seen_ms AS lastSeenMs
       FROM credential WHERE revoked_ms IS NULL ORDER BY id`,
  );
  const add = db.prepare(
    `INSERT INTO credential (kind, name, held_right, digest, created_ms, created_by, last_seen_ms)
     VALUES (?, ?, ?, ?, ?, ?, ?)`,
  );
  const seen = db.prepare('UPDATE credential SET last_seen_ms = ? WHERE id = ?');
  const change = db.prepare('UPDATE credential SET held_right = ? WHERE id = ?');
  const revoke = db.prepare('UPDATE credential SET revoked_ms = ? WHERE id = ?');
  const guarded = guardedAt(path);
  return {
    credentials: () =>
      unreadable.all(all.all(), ({ id }) => ({ table: 'credential', row: id, runId: null }), credentialOf),
    addCredential: guarded((one: Omit<StoredCredential, 'id'>) => {
      const { kind, name, right, digest, createdMs, createdBy, lastSeenMs } = one;
      const done = add.run(kind, name, right, digest, Math.round(createdMs), createdBy, lastSeenMs);
      return { ...one, id: Number(done.lastInsertRowid) };
    }),
    credentialSeen: guarded((id: number, atMs: number) => void seen.run(Math.round(atMs), id)),
    changeRight: guarded((id: number, right: Right) => void change.run(right, id)),
    revokeCredential: guarded((id: number, atMs: number) => void revoke.run(Math.round(atMs), id)),
  };
}

/** @throws Error if the row is damaged: a damaged one gives no access */
function credentialOf(row: Row): StoredCredential {
  requireUnits(row);
  const { kind, heldRight, ...rest } = row;
  const right = RIGHTS.find((one) => one === heldRight);
  if (right === undefined) throw new TypeError(`there is no right ${heldRight}`);
  if (kind !== 'device' && kind !== 'token') throw new TypeError(`there is no kind ${kind}`);
  if (!Buffer.isBuffer(rest.digest) || rest.digest.length !== 32)
    throw new TypeError('the digest is not 32 bytes long');
  return { ...rest, kind, right };
}
