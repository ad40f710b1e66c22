import type { IncomingView } from '../../server/api/contract/incoming.ts';

export type Missing = IncomingView['missing'][number];

/** What must be known before each question can be asked. */
const NEEDS: Readonly<Record<Missing, Missing | null>> = {
  diameter: null,
  temperature: null,
  speed: null,
  setpoints: 'temperature',
  power: 'temperature',
  path: null,
  pins: 'diameter',
};

/** What a line can do without; the question for it says what is then lost. */
export const CAN_SKIP: ReadonlySet<Missing> = new Set(['power', 'pins']);

export interface Progress {
  readonly done: number;
  readonly total: number;
  /** What to ask for now, in this order. */
  readonly open: readonly Missing[];
  /** What was skipped and is still missing. */
  readonly skipped: readonly Missing[];
}

/** How far the set-up is. What a user skipped counts as done. */
export function progressOf(missing: readonly Missing[], skipped: readonly Missing[]): Progress {
  const all = Object.keys(NEEDS) as Missing[];
  const isSkipped = (one: Missing) => CAN_SKIP.has(one) && skipped.includes(one);
  const isOpen = (one: Missing): boolean => {
    const before = NEEDS[one];
    return (missing.includes(one) && !isSkipped(one)) || (before !== null && missing.includes(before));
  };
  return {
    done: all.filter((one) => !isOpen(one)).length,
    total: all.length,
    open: missing.filter((one) => !isSkipped(one)),
    skipped: missing.filter(isSkipped),
  };
}
