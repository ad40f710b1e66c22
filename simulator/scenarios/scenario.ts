/** A scenario as data: how the line is built, how it starts, and what happens at which time. */

import type { CableNoise } from '../device/cable.ts';
import type { LineAction } from '../model/action.ts';
import type { Range } from '../model/defects.ts';
import type { Plant } from '../model/plant.ts';

export type Action =
  | LineAction
  | { readonly do: 'cable'; readonly noise: CableNoise | null }
  /** The device restarts and is silent for the boot time. */
  | { readonly do: 'restart'; readonly bootS: number }
  /** The same, and from then on its fields have other names. */
  | { readonly do: 'new-sketch'; readonly bootS: number };

export type ScriptStep = Action & { readonly atS: number };

/** Something that recurs without end, after random gaps. */
export interface Recurring {
  /** When it first happens. */
  readonly firstS: number;
  readonly gapS: Range;
  /** What happens each time; `afterS` counts from its start. */
  readonly steps: readonly (Action & { readonly afterS: number })[];
}

export interface Scenario {
  readonly name: string;
  readonly title: string;
  /** One sentence. */
  readonly description: string;
  /** End of the script, after which the line continues; null = the script has no end. */
  readonly durationS: number | null;
  /** Temperature of each zone at the start, °C; null = room temperature. */
  readonly startC: readonly (number | null)[];
  /** Differences from the standard plant. */
  readonly plant?: Partial<Plant>;
  readonly script: readonly ScriptStep[];
  readonly recurring?: readonly Recurring[];
}
