export const STAGES = ['stopped', 'heating', 'purging', 'winding'] as const;
export type Stage = (typeof STAGES)[number];

/** How long a stop that a user set can be undone, with the same run, spool and alarms, s. */
export const STOP_CAN_BE_UNDONE_S = 60;
