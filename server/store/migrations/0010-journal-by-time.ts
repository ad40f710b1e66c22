/** Layout 10: the journal of alarms over all runs is read page by page, in order of time. */
export const journalByTimeLayout = `
CREATE INDEX alarm_journal_by_time ON alarm_journal (time_ms);
`;
