/** Layout 14: when and by whom a run or a spool was deleted. It stays in the bin for a while, then its rows are removed. */
export const binLayout = `
ALTER TABLE run ADD COLUMN deleted_ms INTEGER;
ALTER TABLE run ADD COLUMN deleted_by TEXT;
ALTER TABLE spool ADD COLUMN deleted_ms INTEGER;
ALTER TABLE spool ADD COLUMN deleted_by TEXT;
CREATE INDEX run_deleted ON run (deleted_ms) WHERE deleted_ms IS NOT NULL;
CREATE INDEX spool_deleted ON spool (deleted_ms) WHERE deleted_ms IS NOT NULL;
`;
