import { counted, listed } from '../../problem/sentence.ts';
import { lengthText } from '../plan/landmark-hint.ts';
import type { Section } from '../section.ts';
import type { SpoolVerdict } from './spool-verdict.ts';

export const RUN_QUALITIES = ['good', 'goodAfterCutting', 'notUsable', 'notKnown'] as const;
type RunQuality = (typeof RUN_QUALITIES)[number];

/** One spool of a run; lengths are true lengths in mm. */
export interface SpoolOfRun {
  readonly ordinal: number;
  readonly woundMm: number;
  readonly unknownMm: number;
  /** null = nothing is wound on it. */
  readonly fitness: SpoolVerdict['fitness'] | null;
  readonly sections: readonly Section[];
  /** Its plan has nothing left to cut. */
  readonly isCut: boolean;
}

export interface RunVerdict {
  /** null = nothing is wound, or too little so far. */
  readonly quality: RunQuality | null;
  /** One or two sentences. */
  readonly reason: string;
}

/**
 * The verdict on all spools of a run. The worst knowledge decides: one spool that cannot be judged leaves the run unknown. A
 * run of good and unusable spools is good after cutting.
 */
export function verdictOfRun(inProgress: boolean, spools: readonly SpoolOfRun[]): RunVerdict {
  const wound = spools.filter(({ woundMm, fitness }) => woundMm > 0 && fitness !== null);
  if (wound.length === 0)
    return { quality: null, reason: inProgress ? 'Nothing has been wound yet.' : 'Nothing was wound.' };
  const all = (fitness: SpoolVerdict['fitness']) => wound.every((spool) => spool.fitness === fitness);
  const unknown = wound.filter(({ fitness }) => fitness === 'unknown');
  const found = causes(wound, ({ kind }) => kind !== 'unknown');
  if (unknown.length > 0)
    return {
      quality: 'notKnown',
      reason: `${whyUnknown(unknown, wound.length)}${found === '' ? '' : ` Found: ${found}.`}`,
    };
  if (all('notFit') && inProgress) return { quality: null, reason: 'No good piece is long enough yet.' };
  if (all('notFit'))
    return { quality: 'notUsable', reason: `${causes(wound)}: no piece that is long enough is free of them.` };
  if (all('fit')) return { quality: 'good', reason: 'No bad stretch was found.' };
  const isCut = wound.every((spool) => spool.isCut);
  return { quality: 'goodAfterCutting', reason: `${causes(wound)}${isCut ? ', all cut out' : ''}.` };
}

/** What has to be cut out, the worst first: "14 blobs and 5 thin spots". */
function causes(spools: readonly SpoolOfRun[], counts: (section: Section) => boolean = () => true): string {
  const found = spools.flatMap(({ sections }) =>
    sections.filter((section) => section.verdict !== 'good' && counts(section)).map(causeOf),
  );
  const parts = Object.entries(CAUSES).flatMap(([cause, [one, many]]) => {
    const count = found.filter((of) => of === cause).length;
    return count === 0 ? [] : [counted(count, one, many)];
  });
  return listed(parts);
}

/** Names for one and for several, the worst first. */
const CAUSES = {
  blob: ['blob', 'blobs'],
  possibleBlob: ['possible blob', 'possible blobs'],
  neck: ['thin spot', 'thin spots'],
  other: ['other bad stretch', 'other bad stretches'],
  doubtful: ['doubtful stretch', 'doubtful stretches'],
  unknown: ['stretch not measured', 'stretches not measured'],
} as const;

/** Doubtful stretches are counted apart, so that the others add up to the bad stretches of the cut list. */
function causeOf({ kind, verdict }: Section): keyof typeof CAUSES {
  if (kind === 'unknown') return 'unknown';
  if (verdict !== 'discard') return kind === 'blob' ? 'possibleBlob' : 'doubtful';
  return kind === 'blob' || kind === 'neck' ? kind : 'other';
}

function whyUnknown(unknown: readonly SpoolOfRun[], wound: number): string {
  const unmeasuredMm = unknown.reduce((sum, { unknownMm }) => sum + unknownMm, 0);
  const which =
    wound === 1
      ? ''
      : ` on ${unknown.length === 1 ? 'spool' : 'spools'} ${unknown.map(({ ordinal }) => ordinal).join(', ')}`;
  return unmeasuredMm > 0
    ? `${lengthText(unmeasuredMm)}${which} was not reliably measured and may hide blobs.`
    : `Too much${which} is within the uncertainty of the gauge.`;
}

/** Something other than the strand that went wrong while strand was wound, such as a heater that failed. */
export interface Trouble {
  readonly title: string;
  readonly atMs: number;
  /** The heated zone that it is about, from 1; null = none. */
  readonly zone: number | null;
}

export interface FirstTrouble extends Trouble {
  /** How many more there were. */
  readonly more: number;
  /** What the strand did soon after, where it had not done so shortly before. An observation, not a cause. */
  readonly followedBy: { readonly kind: Section['kind']; readonly atMs: number } | null;
}

/** A change of the strand this long after a trouble is mentioned with it, ms. Melt takes minutes to follow the heat. */
const FOLLOWS_WITHIN_MS = 30 * 60_000;
/** Single blobs come at any time; a stretch that goes on follows from a lasting change. mm. */
const LASTING_MM = 300;

/** The first trouble in time, and what the strand did after it; null = none. */
export function firstTrouble(troubles: readonly Trouble[], sections: readonly Section[]): FirstTrouble | null {
  const first = troubles.reduce<Trouble | null>(
    (least, one) => (least === null || one.atMs < least.atMs ? one : least),
    null,
  );
  if (first === null) return null;
  const lasting = sections.filter(
    ({ kind, fromMm, toMm }) => kind !== 'unknown' && kind !== 'marked' && toMm - fromMm >= LASTING_MM,
  );
  const within = (fromMs: number, toMs: number) => (section: Section) =>
    section.fromTimeMs !== null && section.fromTimeMs >= fromMs && section.fromTimeMs < toMs;
  const after = lasting
    .filter(within(first.atMs, first.atMs + FOLLOWS_WITHIN_MS))
    .sort((a, b) => a.fromTimeMs! - b.fromTimeMs!)[0];
  const wasSo = lasting.some(
    (one) => one.kind === after?.kind && within(first.atMs - FOLLOWS_WITHIN_MS, first.atMs)(one),
  );
  return {
    ...first,
    more: troubles.length - 1,
    followedBy: after === undefined || wasSo ? null : { kind: after.kind, atMs: after.fromTimeMs! },
  };
}
