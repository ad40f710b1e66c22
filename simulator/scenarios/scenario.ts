/** A scenario as data: how the line is built, how it starts, and what happens when. */

import type { CableNoise } from '../device/cable.ts';
import type { LineAction } from '../model/action.ts';
import type { Range } from '../model/defects.ts';
import type { Plant } from '../model/plant.ts';

export type Action =
  | LineAction
  | { readonly do: 'cable'; readonly noise: CableNoise | null }
  /** The measuring device resets and is silent for the boot time. */
  | { readonly do: 'restart'; readonly bootS: number };

export type ScriptStep = Action & { readonly atS: number };

/** Something that comes again and again, in gaps of chance length, without end. */
export interface Recurring {
  /** When it comes first. */
  readonly firstS: number;
  readonly gapS: Range;
  /** What happens each time; `afterS` counts from its beginning. */
  readonly steps: readonly (Action & { readonly afterS: number })[];
}

export interface Scenario {
  readonly name: string;
  readonly title: string;
  /** One sentence. */
  readonly description: string;
  /** When the script is over; the line just goes on. null = the script has no end. */
  readonly durationS: number | null;
  /** Where each zone starts, °C; null = at room temperature. */
  readonly startC: readonly (number | null)[];
  /** What is different from the standard plant. */
  readonly plant?: Partial<Plant>;
  readonly script: readonly ScriptStep[];
  readonly recurring?: readonly Recurring[];
}
