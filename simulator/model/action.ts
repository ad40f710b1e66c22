/** What can happen on the line, at a moment: an operator's act, the material's whim, a fault. */

import type { HeatFault } from './barrel.ts';
import type { DefectPlan } from './defects.ts';
import type { GaugeFault } from './gauge.ts';
import type { PullerMode } from './puller.ts';

export type LineAction =
  /** Set-points of all zones, °C; 0 = off. */
  | { readonly do: 'heat'; readonly setPointsC: readonly number[] }
  | {
      readonly do: 'set-point';
      readonly zone: number;
      readonly celsius: number;
    }
  /** `settleS`: how fast the feed calms down after the start. */
  | { readonly do: 'screw'; readonly rpm: number; readonly settleS?: number }
  | {
      readonly do: 'puller';
      readonly mode: PullerMode;
      readonly speedMmPerS: number;
    }
  /** On: the operator starts a new spool as soon as strand that is neither thick nor thin has reached the winder. */
  | { readonly do: 'winder'; readonly on: boolean }
  | { readonly do: 'defect'; readonly plan: DefectPlan }
  /** The strand tears at the die; until it is threaded again nothing follows. */
  | { readonly do: 'break' }
  | { readonly do: 'thread' }
  | { readonly do: 'damp-feed'; readonly on: boolean }
  | { readonly do: 'bridging'; readonly on: boolean }
  | {
      readonly do: 'heat-fault';
      readonly zone: number;
      readonly fault: HeatFault | null;
    }
  /** Extra heat loss of a zone, as a share of the usual one; 0 ends it. */
  | { readonly do: 'draught'; readonly zone: number; readonly share: number }
  | { readonly do: 'gauge-fault'; readonly fault: GaugeFault | null };
