/** Layout 10: an index to read the alarm journal of all runs page by page, in order of time. */
export const journalByTimeLayout = `
CREATE INDEX alarm_journal_by_time ON alarm_journal (time_ms);
`;
