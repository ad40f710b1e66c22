/**
 * Layout 16: a checksum for each group of rows. Blocks of readings, summaries and the journal have their own. NULL = a row
 * has changed since, and the checksum is due.
 */
export const rowChecksumsLayout = `
CREATE TABLE row_group (
  of_table TEXT NOT NULL,
  number INTEGER NOT NULL,
  checksum INTEGER,
  PRIMARY KEY (of_table, number)
) STRICT, WITHOUT ROWID;
`;
