import { Problem } from '../../problem/problem.ts';
import type { Source } from '../../source/source.ts';
import { Link, type LinkListener } from '../link.ts';
import { intakeOptions } from '../settings-to-parts.ts';
import type { LineMonitorParts } from './line-monitor-parts.ts';
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

  /** `first`: from `makeLink`, not started. */
  constructor(parts: ConnectionParts, first: Link) {
    this.#parts = parts;
    this.#link = first;
  }

  get link(): Link {
    return this.#link;
  }

  /**
   * Replaces the link, which has been stopped, by a new one that is not started.
   * @param notBeforeMs time of the last reading, so that the same line goes on after it; null = another line
   */
  replaceLink(notBeforeMs: number | null): void {
    this.#link = makeLink(this.#parts, notBeforeMs);
  }
}

/** A link to the source that is set. A setting that cannot be used does not stop the service: it waits for another one. */
export function makeLink(parts: ConnectionParts, notBeforeMs: number | null): Link {
  const { clock, log, settings, listener } = parts;
  const source = sourceAsSet(parts);
  const nowMs = () => clock.nowMs();
  const intake = intakeOptions(settings.line, nowMs(), notBeforeMs, source.recorded);
  return new Link(source, intake, nowMs, log, {
    reading: (reading) => listener.reading(reading),
    note: (note) => listener.note(note),
    status: (status) => {
      log.info(status.text, { source: source.title });
      listener.status(status);
    },
  });
}

function sourceAsSet({ openSource, unusableSource, fixedSource, settings, log }: ConnectionParts): Source {
  try {
    return openSource(fixedSource ?? settings.line.source);
  } catch (thrown) {
    if (!(thrown instanceof Problem) || fixedSource !== null) throw thrown;
    log.error(`${thrown.message} ${thrown.remedy}`);
    return unusableSource(thrown);
  }
}
