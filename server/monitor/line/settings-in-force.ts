import type { HeatLimits } from '../../heat/zone-status.ts';
import type { LineSettings } from '../../settings/line-settings.ts';
import type { StrandLimits } from '../../strand/strand-limits.ts';
import { heatLimits, strandLimits } from '../settings-to-parts.ts';

/** The settings that hold now, with the limits that follow from them. */
export class SettingsInForce {
  #line: LineSettings;
  #strandLimits: StrandLimits;
  #heatLimits: HeatLimits;

  constructor(settings: LineSettings) {
    this.#line = settings;
    this.#strandLimits = strandLimits(settings);
    this.#heatLimits = heatLimits(settings);
  }

  get line(): LineSettings {
    return this.#line;
  }

  get strandLimits(): StrandLimits {
    return this.#strandLimits;
  }

  get heatLimits(): HeatLimits {
    return this.#heatLimits;
  }

  replace(next: LineSettings): void {
    this.#line = next;
    this.#strandLimits = strandLimits(next);
    this.#heatLimits = heatLimits(next);
  }
}
