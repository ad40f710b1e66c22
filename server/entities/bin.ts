export type BinnedKind = 'run' | 'spool';

/** A deleted run or spool, which can be restored until it is removed for good. */
export interface Binned {
  readonly kind: BinnedKind;
  readonly id: number;
  readonly runId: number;
  /** Of a spool within its run; null = it is a run. */
  readonly ordinal: number | null;
  readonly startedMs: number;
  /** IANA name of the zone for its clock times. */
  readonly timeZone: string;
  readonly deletedMs: number;
  readonly deletedBy: string;
}

/** How long deleted runs and spools can be restored. */
export const BIN_KEPT_DAYS = 30;
export const BIN_KEPT_MS = BIN_KEPT_DAYS * 86_400_000;
