import { Problem } from '../../problem/problem.ts';
import { ReadingIntake } from '../../reading/intake.ts';
import type { Learnt } from '../../reading/intake-options.ts';
import type { Source } from '../../source/source.ts';
import { intakeOptions } from '../settings-to-parts.ts';
import type { LineMonitorParts } from './line-monitor-parts.ts';
import { Link, type LinkListener } from './link.ts';
import type { SettingsInForce } from './settings-in-force.ts';

export interface ConnectionParts extends Pick<LineMonitorParts, 'clock' | 'log' | 'openSource' | 'unusableSource'> {
  readonly fixedSource: string | null;
  readonly settings: SettingsInForce;
  readonly listener: LinkListener;
}

/** The current link of the line. Another source or other reading rules replace it. */
export class Connection {
  readonly #parts: ConnectionParts;
  #link: Link;

  /** @param first from `createLink`, not started */
  constructor(parts: ConnectionParts, first: Link) {
    this.#parts = parts;
    this.#link = first;
  }

  get link(): Link {
    return this.#link;
  }

  /**
   * Replaces the stopped link by a new one that is not started yet.
   * @param notBeforeMs time of the last reading, so that the same line continues after it; null = another line
   */
  replaceLink(notBeforeMs: number | null): void {
    this.#link = createLink(this.#parts, notBeforeMs, false);
  }

  /** Uses other reading rules on the same live connection. @param notBeforeMs time of the last reading; null = none */
  changeReadingRules(notBeforeMs: number | null): void {
    this.#link.useIntake((learnt) => createIntake(this.#parts, notBeforeMs, undefined, learnt));
  }
}

/** Reading lines by the rules that are in force now. */
function createIntake(
  { clock, settings }: ConnectionParts,
  notBeforeMs: number | null,
  recorded: Source['recorded'],
  learnt?: Learnt,
): ReadingIntake {
  const options = intakeOptions(settings.line, clock.nowMs(), notBeforeMs, recorded);
  return new ReadingIntake(learnt === undefined ? options : { ...options, learnt });
}

/**
 * Links to the configured source. If that cannot be used, the service still watches, and tries it again.
 * @throws Problem if the source that the service is to start with cannot be used
 */
export function createLink(parts: ConnectionParts, notBeforeMs: number | null, atStart = true): Link {
  const { clock, log, listener } = parts;
  const source = configuredSource(parts, atStart);
  // A cable that is out for a week is one fault, not a line in the log for each attempt to open the port.
  const loggedSinceReading = new Set<string>();
  const intake = createIntake(parts, notBeforeMs, source.recorded);
  return new Link(source, intake, () => clock.steadyMs(), log, {
    reading: (reading) => {
      if (loggedSinceReading.size > 0) loggedSinceReading.clear();
      listener.reading(reading);
    },
    linesTaken: (lines) => listener.linesTaken(lines),
    note: (note) => listener.note(note),
    remark: (what) => listener.remark(what),
    status: (status) => {
      const { text, fault = text } = status;
      if (!loggedSinceReading.has(fault)) log.info(text, { source: source.title });
      loggedSinceReading.add(fault);
      listener.status(status);
    },
  });
}

function configuredSource(parts: ConnectionParts, atStart: boolean): Source {
  const { openSource, unusableSource, fixedSource, settings, log } = parts;
  const isFixed = fixedSource !== null;
  try {
    return openSource(fixedSource ?? settings.line.source, isFixed);
  } catch (thrown) {
    if (!(thrown instanceof Problem) || (isFixed && atStart)) throw thrown;
    log.error(`${thrown.message} ${thrown.remedy}`);
    return unusableSource(thrown, isFixed);
  }
}
