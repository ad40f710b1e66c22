import { messageOf, Problem } from '../problem/problem.ts';
import type { LineSettings } from '../settings/line-settings.ts';
import type { Log } from './log.ts';
import type { Backup, RecordMaintenance } from './ports/maintenance.ts';
import type { RecordWriter } from './ports/record.ts';
import type { Clock } from './steady-clock.ts';

export interface MaintenanceServiceParts {
  readonly maintenance: RecordMaintenance;
  readonly writer: Pick<RecordWriter, 'log'>;
  readonly clock: Clock;
  readonly log: Log;
  settings(): LineSettings;
  /** Where backups go; made when the first one is. */
  readonly backupFolder: string;
  /** The folder was given at start: backups are made by themselves too. */
  readonly scheduled: boolean;
}

export interface Check {
  readonly timeMs: number;
  /** What is wrong, in words; empty = nothing. */
  readonly faults: readonly string[];
}

/** How the record is, as the set-up page shows it. */
export interface MaintenanceState {
  readonly recordBytes: number;
  readonly freeBytes: number;
  readonly backupFolder: string;
  readonly scheduled: boolean;
  /** Newest first. */
  readonly backups: readonly Backup[];
  /** Why the last backup failed; null = it did not. */
  readonly backupProblem: string | null;
  /** What is under way. */
  readonly busy: 'backup' | 'check' | null;
  /** The last check since the service started; null = none. */
  readonly check: Check | null;
}

const EVERY_MS = 10_000;
/** A backup that failed is tried again after an hour. */
const TRY_AGAIN_MS = 3_600_000;
const DAY_MS = 86_400_000;
const GB = 1e9;

/** Keeps house with the record: free space, what is let go when, backups by schedule and by button, checks. */
export class MaintenanceService {
  readonly #parts: MaintenanceServiceParts;
  #timer: NodeJS.Timeout | null = null;
  #diskFilling: string | null = null;
  #backupProblem: string | null = null;
  #triedMs = Number.NEGATIVE_INFINITY;
  #busy: 'backup' | 'check' | null = null;
  #underway: Promise<unknown> = Promise.resolve();
  #swept: Promise<unknown> = Promise.resolve();
  #check: Check | null = null;
  #toldTrouble = false;

  constructor(parts: MaintenanceServiceParts) {
    this.#parts = parts;
  }

  start(): void {
    const { maintenance, backupFolder, log } = this.#parts;
    this.#swept = maintenance.sweep(backupFolder).catch((thrown: unknown) => {
      log.warn(`What was left half done could not be removed: ${messageOf(thrown)}`);
    });
    this.#timer = setInterval(() => this.look(), EVERY_MS);
    this.look();
  }

  /** Ends when what is under way has ended. */
  async stop(): Promise<void> {
    if (this.#timer !== null) clearInterval(this.#timer);
    this.#timer = null;
    await this.#swept;
    await this.#underway;
  }

  /** How much the disk has left, in words, when that is too little; null = enough. */
  get diskFilling(): string | null {
    return this.#diskFilling;
  }

  state(): MaintenanceState {
    const { maintenance, backupFolder, scheduled } = this.#parts;
    return {
      recordBytes: maintenance.recordBytes(),
      freeBytes: maintenance.freeBytes(),
      backupFolder,
      scheduled,
      backups: maintenance.backups(backupFolder),
      backupProblem: this.#backupProblem,
      busy: this.#busy,
      check: this.#check,
    };
  }

  /**
   * Make a backup now.
   * @throws Problem `backup-failed`, `wrong-state` where something else is under way
   */
  backup(who: string): Promise<Backup> {
    return this.#alone('backup', async () => {
      const { maintenance, backupFolder, clock, settings } = this.#parts;
      this.#triedMs = clock();
      try {
        const backup = await maintenance.backup(backupFolder, clock(), settings().backupsKept);
        this.#backupProblem = null;
        this.#tell(who, `Made a backup: ${backup.path}.`);
        return backup;
      } catch (thrown) {
        if (this.#backupProblem === null) this.#tell(who, messageOf(thrown));
        this.#backupProblem = messageOf(thrown);
        throw thrown;
      }
    });
  }

  /**
   * Read the whole record and see whether it is sound.
   * @throws Problem `wrong-state` where something else is under way
   */
  check(who: string): Promise<Check> {
    return this.#alone('check', async () => {
      const { maintenance, clock } = this.#parts;
      const faults = await maintenance.check();
      this.#check = { timeMs: clock(), faults };
      this.#tell(
        who,
        faults.length === 0
          ? 'Checked the record: nothing is wrong.'
          : `Checked the record: ${faults.length} faults, ${faults[0]}.`,
      );
      return this.#check;
    });
  }

  /** One round; called every few seconds. */
  look(): void {
    try {
      this.#watchSpace();
      this.#letGo();
      this.#toldTrouble = false;
    } catch (thrown) {
      // A full or failing disk refuses this too; the record itself tells of it, so once is enough here.
      if (!this.#toldTrouble) this.#parts.log.warn(`Maintenance of the record failed: ${messageOf(thrown)}`);
      this.#toldTrouble = true;
    }
    this.#backupWhenDue();
  }

  #watchSpace(): void {
    const { maintenance, settings } = this.#parts;
    const freeBytes = maintenance.freeBytes();
    const short = freeBytes < settings().freeSpaceAlarmGb * GB;
    this.#diskFilling = short ? `${(freeBytes / GB).toFixed(freeBytes < GB ? 2 : 1)} GB are left` : null;
  }

  #letGo(): void {
    const { maintenance, clock, settings } = this.#parts;
    const { keepReadingsDays, recordLimitGb } = settings();
    const nowMs = clock();
    const tooLarge = recordLimitGb > 0 && maintenance.usedBytes() > recordLimitGb * GB;
    const endedBefore = tooLarge ? nowMs : keepReadingsDays > 0 ? nowMs - keepReadingsDays * DAY_MS : null;
    // Without a limit there is still what an earlier one had begun with.
    const step = maintenance.thinStep(endedBefore ?? Number.NEGATIVE_INFINITY, nowMs);
    if (step !== null && step !== 'going') {
      this.#tell('service', `Lets the single readings of run ${step.begun} go; its charts and sections stay.`);
    }
    maintenance.giveBack();
  }

  #backupWhenDue(): void {
    const { maintenance, backupFolder, scheduled, clock, settings } = this.#parts;
    const { backupEveryDays } = settings();
    if (!scheduled || backupEveryDays === 0 || this.#busy !== null) return;
    const nowMs = clock();
    const lastMs = maintenance.backups(backupFolder)[0]?.timeMs ?? Number.NEGATIVE_INFINITY;
    if (nowMs - lastMs < backupEveryDays * DAY_MS || nowMs - this.#triedMs < TRY_AGAIN_MS) return;
    this.backup('service').catch((thrown: unknown) => this.#parts.log.error(messageOf(thrown)));
  }

  #alone<T>(what: 'backup' | 'check', work: () => Promise<T>): Promise<T> {
    if (this.#busy !== null) {
      const problem = new Problem(
        'wrong-state',
        this.#busy === 'backup' ? 'A backup is being made.' : 'The record is being checked.',
        'Wait until it is done, then ask again.',
      );
      return Promise.reject(problem);
    }
    this.#busy = what;
    const done = work().finally(() => {
      this.#busy = null;
    });
    this.#underway = done.catch(() => {});
    return done;
  }

  #tell(who: string, what: string): void {
    const { writer, clock, log } = this.#parts;
    log.info(what);
    try {
      writer.log({ timeMs: clock(), runId: null, who, what });
    } catch (thrown) {
      log.warn(`Could not be logged in the record: ${messageOf(thrown)}`);
    }
  }
}
