import type { HeatLimits } from '../../heat/zone-status.ts';
import type { LineSettings } from '../../settings/line-settings.ts';
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

  constructor(current: SettingsWithLimits) {
    this.#current = current;
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

  replace(next: LineSettings): void {
    this.#current = withLimits(next);
  }
}
