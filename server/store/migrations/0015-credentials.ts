/** Layout 15: devices and tokens that may use the service. Of a secret only its SHA-256 is stored. */
export const credentialsLayout = `
CREATE TABLE credential (
  id INTEGER PRIMARY KEY,
  kind TEXT NOT NULL,
  name TEXT NOT NULL,
  held_right TEXT NOT NULL,
  digest BLOB NOT NULL UNIQUE,
  created_ms INTEGER NOT NULL,
  created_by TEXT NOT NULL,
  last_seen_ms INTEGER,
  revoked_ms INTEGER
);
`;
