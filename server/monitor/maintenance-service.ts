import { setTimeout as pause } from 'node:timers/promises';
import { BIN_KEPT_DAYS } from '../entities/bin.ts';
import { messageOf, Problem } from '../problem/problem.ts';
import { counted } from '../problem/sentence.ts';
import type { LineSettings } from '../settings/line-settings.ts';
import { CLOCK_SET_MS, type Clock } from './clock.ts';
import type { Log } from './log.ts';
import type { Backup, RecordMaintenance, RollingCheck } from './ports/maintenance.ts';
import type { RecordWriter } from './ports/record.ts';
import { afterShare, firstRound, shareDue } from './rolling-check.ts';

export interface MaintenanceServiceParts {
  readonly maintenance: RecordMaintenance;
  readonly writer: Pick<RecordWriter, 'log'>;
  readonly clock: Clock;
  /** ms; any origin, never stepping back. */
  readonly steadyClock: Clock;
  readonly log: Log;
  /** Called before the bin is emptied. */
  correctBinDates(): void;
  settings(): LineSettings;
  /** Created with the first backup. */
  readonly backupFolder: string;
  /** Backups are also made automatically, because a backup folder was given at start. */
  readonly scheduled: boolean;
}

export interface Check {
  readonly timeMs: number;
  /** Descriptions of what is wrong; empty = nothing. */
  readonly faults: readonly string[];
}

/** State of the record, for the set-up page. */
export interface MaintenanceState {
  readonly recordBytes: number;
  readonly freeBytes: number;
  readonly backupFolder: string;
  readonly scheduled: boolean;
  /** Newest first. */
  readonly backups: readonly Backup[];
  /** Why the last backup failed; null = it succeeded. */
  readonly backupProblem: string | null;
  /** What is being done; null = nothing. */
  readonly busy: 'backup' | 'check' | null;
  /** The last check since the service started; null = none. */
  readonly check: Check | null;
  /** The check that reads some of the record each day; null = not begun. */
  readonly rollingCheck: RollingCheck | null;
}

const ROUND_EVERY_MS = 10_000;
const RETRY_BACKUP_AFTER_MS = 3_600_000;
/** A clock that was set, or has just started, may be wrong by years. It is usually corrected within minutes. */
const CLOCK_TRIED_MS = 600_000;
const STOP_WAITS_MS = 3000;
const DAY_MS = 86_400_000;
const GB = 1e9;

/** Maintains the record: watches free space, deletes old readings, makes backups and checks. */
export class MaintenanceService {
  readonly #parts: MaintenanceServiceParts;
  #timer: NodeJS.Timeout | null = null;
  #diskFilling: string | null = null;
  /** undefined = what earlier checks found has not been read yet. */
  #faults: readonly string[] | undefined;
  #backupProblem: string | null = null;
  /** By the steady clock. */
  #backupTriedMs = Number.NEGATIVE_INFINITY;
  #busy: 'backup' | 'check' | null = null;
  #current: Promise<unknown> = Promise.resolve();
  /** Looks whether a backup is due, and makes it; null = not now. */
  #looking: Promise<unknown> | null = null;
  #sweeping: Promise<unknown> = Promise.resolve();
  #check: Check | null = null;
  #troubleLogged = false;
  #checkingShare = false;
  /** The clock relative to the steady one. */
  #offsetMs = Number.NaN;
  /** When the next day counts, by the steady clock. */
  #dayDueMs = Number.NaN;

  constructor(parts: MaintenanceServiceParts) {
    this.#parts = parts;
  }

  start(): void {
    const { maintenance, backupFolder, log } = this.#parts;
    this.#sweeping = maintenance.removeLeftovers(backupFolder).catch((thrown: unknown) => {
      log.warn(`Unfinished files could not be removed: ${messageOf(thrown)}`);
    });
    this.#timer = setInterval(() => this.runOnce(), ROUND_EVERY_MS);
    this.runOnce();
  }

  /** Waits for a backup or check in progress, but not for long: a folder may hang. The store then ends it. */
  async stop(): Promise<void> {
    if (this.#timer !== null) clearInterval(this.#timer);
    this.#timer = null;
    const work = Promise.all([this.#sweeping, this.#looking, this.#current]);
    await Promise.race([work, pause(STOP_WAITS_MS, undefined, { ref: false })]);
  }

  /** How much space is left on the disk, as text, if too little; null = enough. */
  get diskFilling(): string | null {
    return this.#diskFilling;
  }

  /** What could not be read, or the daily check or the last full one found, as text; null = nothing. */
  get damage(): string | null {
    const unread = this.#parts.maintenance.readFailure();
    const [first, ...others] = [...(unread === null ? [] : [unread]), ...(this.#faults ?? [])];
    if (first === undefined) return null;
    return others.length === 0 ? first : `${counted(others.length + 1, 'fault')}, the first: ${first}`;
  }

  async state(): Promise<MaintenanceState> {
    const { maintenance, backupFolder, scheduled } = this.#parts;
    const backups = await maintenance.backups(backupFolder).catch(() => []);
    return {
      recordBytes: maintenance.recordBytes(),
      freeBytes: maintenance.freeBytes(),
      backupFolder,
      scheduled,
      backups,
      backupProblem: this.#backupProblem,
      busy: this.#busy,
      check: this.#check,
      rollingCheck: maintenance.rollingCheck(),
    };
  }

  /** Makes a backup now. @throws Problem `backup-failed`; `wrong-state` while another backup or a check is in progress */
  backup(who: string): Promise<Backup> {
    return this.#exclusively('backup', async () => {
      const { maintenance, backupFolder, clock, steadyClock, settings } = this.#parts;
      this.#backupTriedMs = steadyClock();
      try {
        const { backupsKept, freeSpaceAlarmGb } = settings();
        const backup = await maintenance.backup(backupFolder, clock(), backupsKept, freeSpaceAlarmGb * GB);
        this.#backupProblem = null;
        this.#log(who, `Made a backup: ${backup.path}.`);
        return backup;
      } catch (thrown) {
        if (this.#backupProblem === null) this.#log(who, messageOf(thrown), 'error');
        this.#backupProblem = messageOf(thrown);
        throw thrown;
      }
    });
  }

  /** Checks the whole record. @throws Problem `wrong-state` while another check or a backup is in progress */
  check(who: string): Promise<Check> {
    return this.#exclusively('check', async () => {
      const { maintenance, clock } = this.#parts;
      const faults = await maintenance.check();
      this.#check = { timeMs: clock(), faults };
      this.#keepFaults(faults);
      this.#log(
        who,
        faults.length === 0
          ? 'Checked the record: nothing is wrong.'
          : `Checked the record: ${faults.length} faults, ${faults[0]}.`,
      );
      return this.#check;
    });
  }

  /** One round of maintenance; called every few seconds. */
  runOnce(): void {
    try {
      this.#watchSpace();
      this.#deleteOldReadings();
      this.#addDayWhenDue();
      this.#troubleLogged = false;
    } catch (thrown) {
      // Logged once, because a full or failing disk is also reported by the record itself.
      if (!this.#troubleLogged) this.#parts.log.warn(`Maintenance of the record failed: ${messageOf(thrown)}`);
      this.#troubleLogged = true;
    }
    this.#backupWhenDue();
    this.#checkShareWhenDue();
  }

  #watchSpace(): void {
    const { maintenance, settings } = this.#parts;
    const freeBytes = maintenance.freeBytes();
    const short = freeBytes < settings().freeSpaceAlarmGb * GB;
    this.#diskFilling = short ? `${(freeBytes / GB).toFixed(freeBytes < GB ? 2 : 1)} GB is left` : null;
  }

  #deleteOldReadings(): void {
    const { maintenance, clock, settings } = this.#parts;
    const { keepReadingsDays, recordLimitGb } = settings();
    const nowMs = clock();
    const tooLarge = recordLimitGb > 0 && maintenance.usedBytes() > recordLimitGb * GB;
    const tooOld = keepReadingsDays > 0 ? maintenance.olderThan(keepReadingsDays, nowMs) : null;
    const endedBefore = tooLarge ? nowMs : tooOld;
    // Even without a limit, a deletion that an earlier limit started must be finished.
    const step = maintenance.thinStep(endedBefore ?? Number.NEGATIVE_INFINITY, nowMs);
    if (step !== null && step !== 'more') {
      this.#log(
        'service',
        `Deleting the single readings of run ${step.startedRunId}. Its charts and marked stretches are kept.`,
      );
    }
    this.#parts.correctBinDates();
    maintenance.emptyBinStep(maintenance.olderThan(BIN_KEPT_DAYS, nowMs));
    maintenance.releaseFreePages();
  }

  /** Counts a day after each start or change of the clock, and then one every 24 hours. */
  #addDayWhenDue(): void {
    const { maintenance, clock, steadyClock } = this.#parts;
    const [nowMs, steadyMs] = [clock(), steadyClock()];
    const goesOn = Math.abs(nowMs - steadyMs - this.#offsetMs) < CLOCK_SET_MS;
    this.#offsetMs = nowMs - steadyMs;
    if (!goesOn) this.#dayDueMs = steadyMs + CLOCK_TRIED_MS;
    if (steadyMs < this.#dayDueMs) return;
    maintenance.addDay(nowMs);
    this.#dayDueMs += DAY_MS;
  }

  #backupWhenDue(): void {
    const { scheduled, steadyClock, settings } = this.#parts;
    const { backupEveryDays } = settings();
    if (!scheduled || backupEveryDays === 0 || this.#busy !== null || this.#looking !== null) return;
    if (steadyClock() - this.#backupTriedMs < RETRY_BACKUP_AFTER_MS) return;
    this.#looking = this.#backUpAfter(backupEveryDays * DAY_MS)
      // The first failure has been logged; the page shows each.
      .catch(() => {})
      .finally(() => {
        this.#looking = null;
      });
  }

  async #backUpAfter(everyMs: number): Promise<void> {
    const { maintenance, backupFolder, clock } = this.#parts;
    // The backup then fails, and says so, because the folder does not answer.
    const known = await maintenance.backups(backupFolder).catch(() => []);
    const nowMs = clock();
    // A later one was made while the clock was ahead, and does not say how old it is.
    const lastMs = known.find(({ timeMs }) => timeMs <= nowMs)?.timeMs ?? Number.NEGATIVE_INFINITY;
    if (nowMs - lastMs >= everyMs && this.#busy === null) await this.backup('service');
  }

  /** Reads some of the record each day, on a worker. */
  #checkShareWhenDue(): void {
    const { maintenance, clock, log } = this.#parts;
    if (this.#busy !== null || this.#checkingShare) return;
    const failed = (thrown: unknown) => log.warn(`A part of the record could not be checked: ${messageOf(thrown)}`);
    try {
      const before = maintenance.rollingCheck();
      this.#faults ??= before?.faults;
      if (before === null) {
        maintenance.saveRollingCheck(firstRound(clock()));
        return;
      }
      const share = shareDue(before, clock());
      if (share === 0) return;
      this.#checkingShare = true;
      this.#current = this.#checkShare(before, share)
        .catch(failed)
        .finally(() => {
          this.#checkingShare = false;
        });
    } catch (thrown) {
      if (!this.#troubleLogged) failed(thrown);
      this.#troubleLogged = true;
    }
  }

  async #checkShare(before: RollingCheck, share: number): Promise<void> {
    const { maintenance, clock } = this.#parts;
    const checked = await maintenance.checkShare(before.next, share);
    const after = afterShare(before, checked, clock());
    maintenance.saveRollingCheck(after);
    this.#faults = after.faults;
    if (checked.faults.length > 0)
      this.#log(
        'service',
        `The daily check of the record found ${counted(checked.faults.length, 'fault')}: ${checked.faults[0]}.`,
      );
    else if (after.next === null) this.#log('service', 'The daily check has read all of the record: nothing is wrong.');
  }

  /** A check of everything replaces what the daily one has found. It may not be possible to save that on a failing disk. */
  #keepFaults(faults: readonly string[]): void {
    const { maintenance, log } = this.#parts;
    this.#faults = faults;
    maintenance.forgetReadFailure();
    try {
      const rolling = maintenance.rollingCheck();
      if (rolling !== null) maintenance.saveRollingCheck({ ...rolling, faults });
    } catch (thrown) {
      log.warn(`The result of the check could not be saved: ${messageOf(thrown)}`);
    }
  }

  #exclusively<T>(what: 'backup' | 'check', work: () => Promise<T>): Promise<T> {
    if (this.#busy !== null) {
      const problem = new Problem(
        'wrong-state',
        this.#busy === 'backup' ? 'A backup is being made.' : 'The record is being checked.',
        'Wait until it is done, then try again.',
      );
      return Promise.reject(problem);
    }
    this.#busy = what;
    const done = work().finally(() => {
      this.#busy = null;
    });
    this.#current = done.catch(() => {});
    return done;
  }

  #log(who: string, what: string, level: 'info' | 'error' = 'info'): void {
    const { writer, clock, log } = this.#parts;
    log[level](what);
    try {
      writer.log({ timeMs: clock(), runId: null, who, what });
    } catch (thrown) {
      log.warn(`Could not write to the log in the record: ${messageOf(thrown)}`);
    }
  }
}

/**
 * Refuses work for which the disk of the record has too little space. The free space that the settings reserve for watching
 * is never used up.
 * @param bytes needed; 0 = only check the reserve
 * @throws Problem `record-failing`
 */
export function requireFreeSpace(
  bytes: number,
  maintenance: Pick<RecordMaintenance, 'freeBytes'>,
  { freeSpaceAlarmGb }: Pick<LineSettings, 'freeSpaceAlarmGb'>,
): void {
  if (maintenance.freeBytes() - bytes >= freeSpaceAlarmGb * GB) return;
  const short =
    bytes === 0
      ? 'less is left than is to be kept free'
      : `about ${Math.ceil(bytes / 1e6)} MB is needed beyond the free space to be kept`;
  throw new Problem(
    'record-failing',
    `There is not enough space on the disk of the record: ${short}.`,
    'Free some space on the disk, or delete old readings (Set-up, The record), then try again.',
  );
}
