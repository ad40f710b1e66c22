import type { PrintAmount } from '../strand/verdict/print-fit.ts';
import type { Fitness } from '../strand/verdict/spool-verdict.ts';

/** `used`: strand was taken, whatever for. The others are steps of a print. */
export const USE_KINDS = ['used', 'started', 'finished', 'jammed', 'flawed'] as const;
type UseKind = (typeof USE_KINDS)[number];

/** `percent`: of the print. `all`: everything that was left. */
export const USE_UNITS = ['metres', 'grams', 'percent', 'all'] as const;

/** Which end of the strand as it was wound feeds first: the inner one of a coil that was rewound, the outer one of a spool. */
export const FEEDING_ENDS = ['inner', 'outer'] as const;
export type FeedingEnd = (typeof FEEDING_ENDS)[number];

/** How much of the strand, or how far into the print; `all` has no number. */
export type UseAmount =
  | { readonly amount: number; readonly unit: 'metres' | 'grams' | 'percent' }
  | { readonly unit: 'all' };

/** What a user recorded about the strand of a coil, or of a spool that was not cut. */
export interface StrandUse {
  readonly id: number;
  readonly kind: UseKind;
  /** The strand that the coil or the spool had then; gauge lengths. */
  readonly place: { readonly fromGaugeMm: number; readonly toGaugeMm: number };
  readonly feeds: FeedingEnd;
  /** null = not stated. */
  readonly used: UseAmount | null;
  /** What the whole print needs; null = not stated. */
  readonly print: PrintAmount | null;
  /** Name of the printer; null = not stated, or not a print. */
  readonly printer: string | null;
  /** What the strand was called for that printer at the time; null = not a print. */
  readonly called: Fitness | null;
  readonly atMs: number;
  readonly who: string;
}
