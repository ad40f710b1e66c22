import type { HeatLimits } from '../../heat/zone-status.ts';
import type { RecoveredSettings } from '../../settings/check-line-settings.ts';
import { type LineSettings, NO_SOURCE } from '../../settings/line-settings.ts';
import type { StrandLimits } from '../../strand/strand-limits.ts';
import { heatLimits, strandLimits } from '../settings-to-parts.ts';

export interface SettingsWithLimits {
  readonly line: LineSettings;
  readonly strandLimits: StrandLimits;
  readonly heatLimits: HeatLimits;
}

/** Derived once for each change, because the limits are needed at every check of the conditions. */
export function withLimits(line: LineSettings): SettingsWithLimits {
  return { line, strandLimits: strandLimits(line), heatLimits: heatLimits(line) };
}

/** The current settings of the line, shared by its parts. */
export class SettingsInForce {
  #current: SettingsWithLimits;
  #reset: readonly (keyof LineSettings)[];
  #notice: string | null;

  /** @param recovered what could not be used of the saved settings */
  constructor(
    current: SettingsWithLimits,
    recovered: Pick<RecoveredSettings, 'reset' | 'notice'> = { reset: [], notice: null },
  ) {
    this.#current = current;
    this.#reset = recovered.reset;
    this.#notice = recovered.notice;
  }

  /** What else users must know of the settings, until they have been saved with a source; null = nothing. */
  get notice(): string | null {
    return this.#notice;
  }

  /** Settings that have their defaults because what was saved could not be used. A user has not stated them since. */
  get reset(): readonly (keyof LineSettings)[] {
    return this.#reset;
  }

  get line(): LineSettings {
    return this.#current.line;
  }

  get strandLimits(): StrandLimits {
    return this.#current.strandLimits;
  }

  get heatLimits(): HeatLimits {
    return this.#current.heatLimits;
  }

  /** @param stated the settings that a user stated, changed or not */
  replace(next: LineSettings, stated: readonly string[]): void {
    this.#current = withLimits(next);
    this.#reset = this.#reset.filter((name) => !stated.includes(name));
    if (next.source !== NO_SOURCE) this.#notice = null;
  }
}
