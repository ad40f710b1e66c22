import { Problem } from '../problem/problem.ts';
import { gaugeLengthMm, type StrandOnWinder } from './position.ts';
import { VERDICTS, type Verdict } from './section.ts';

const NOTE_LENGTH_MAX = 500;
/** Pages round positions: this far beyond an end of the spool still means that end. */
const ROUNDING_MM = 1;

/** A stretch entered by a user; positions on the spool from its inner end, true mm. */
export interface SectionRequest {
  readonly fromSpoolMm: number;
  readonly toSpoolMm: number;
  readonly verdict: Verdict;
  readonly note?: string;
}

/** A stretch to be stored; gauge lengths, mm. */
export interface CheckedSection {
  readonly fromMm: number;
  readonly toMm: number;
  readonly verdict: Verdict;
  readonly note: string;
}

const metres = (mm: number): string => `${(mm / 1000).toFixed(3)} m`;

/** Checks a stretch entered by a user against the spool. Throws the Problem `bad-section`. */
export function checkSection(
  request: SectionRequest,
  /** `lengthMm` = the true length on it. */
  spool: StrandOnWinder & { readonly lengthMm: number },
): CheckedSection {
  const { fromSpoolMm: from, toSpoolMm: to, verdict } = request;
  const note = request.note ?? '';
  if (!Number.isFinite(from) || !Number.isFinite(to))
    throw new Problem(
      'bad-section',
      `A stretch needs two positions, but they are ${from} mm and ${to} mm.`,
      'Give both positions as numbers, in millimetres from the inner end of the spool.',
      { pointer: Number.isFinite(from) ? '/toSpoolMm' : '/fromSpoolMm' },
    );
  if (!(to > from))
    throw new Problem(
      'bad-section',
      `The stretch ends at ${metres(to)}, which is not after its start at ${metres(from)}.`,
      'Give the position nearer to the inner end of the spool first.',
      { pointer: '/toSpoolMm' },
    );
  if (from < -ROUNDING_MM)
    throw new Problem(
      'bad-section',
      `The stretch starts at ${metres(from)}, before the inner end of the spool.`,
      'Positions count from 0 at the inner end.',
      { pointer: '/fromSpoolMm' },
    );
  if (to > spool.lengthMm + ROUNDING_MM)
    throw new Problem(
      'bad-section',
      `The stretch ends at ${metres(to)}, but the spool holds ${metres(spool.lengthMm)}.`,
      'Give a position on the spool.',
      { pointer: '/toSpoolMm' },
    );
  if (!VERDICTS.includes(verdict))
    throw new Problem('bad-section', `“${verdict}” is not a verdict.`, `Choose one of ${VERDICTS.join(', ')}.`, {
      pointer: '/verdict',
    });
  if (note.length > NOTE_LENGTH_MAX)
    throw new Problem('bad-section', `The note has ${note.length} characters.`, `Shorten it to ${NOTE_LENGTH_MAX}.`, {
      pointer: '/note',
    });
  return {
    fromMm: gaugeLengthMm(Math.max(0, from), spool),
    toMm: gaugeLengthMm(Math.min(to, spool.lengthMm), spool),
    verdict,
    note,
  };
}
