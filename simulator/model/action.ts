/** What can happen on the line: an action of the operator, a change of the feed, a fault. */

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
  /** `settleS`: time constant with which the feed becomes even after the start. */
  | { readonly do: 'screw'; readonly rpm: number; readonly settleS?: number }
  | {
      readonly do: 'puller';
      readonly mode: PullerMode;
      readonly speedMmPerS: number;
    }
  /** On = the operator starts a new spool when strand that is neither thick nor thin reaches the winder. */
  /** The wheel of the length counter slips by this share; 0 = it grips again. */
  | { readonly do: 'counter-slip'; readonly share: number }
  | { readonly do: 'winder'; readonly on: boolean }
  | { readonly do: 'defect'; readonly plan: DefectPlan }
  /** The strand breaks at the die. There is none until it is threaded again. */
  | { readonly do: 'break' }
  | { readonly do: 'thread' }
  | { readonly do: 'damp-feed'; readonly on: boolean }
  | { readonly do: 'bridging'; readonly on: boolean }
  | {
      readonly do: 'heat-fault';
      readonly zone: number;
      readonly fault: HeatFault | null;
    }
  /** Additional heat loss of a zone, as a share of the usual loss; 0 ends it. */
  | { readonly do: 'draught'; readonly zone: number; readonly share: number }
  | { readonly do: 'gauge-fault'; readonly fault: GaugeFault | null };
