import { capital } from '../problem/sentence.ts';
import type { Blindness } from './blindness.ts';
import type { LengthDoubt } from './length-doubts.ts';
import { mergedStretches } from './position.ts';
import type { Section } from './section.ts';
import { type NamedCause, nameCauses, type PossibleCause } from './spectrum/named-causes.ts';
import type { DriftAdvisory, StrandAdvisory, SurgingAdvisory } from './trend/advisory.ts';
import { SURGE_WINDOW_CELLS } from './trend/surge-tracker.ts';
import { missedByNoiseAtMost } from './verdict/missed-blobs.ts';

export const ADVICE_KINDS = [
  'drift',
  'surging',
  'outOfRound',
  'blindness',
  'noise',
  'gaugeFrozen',
  'gaugeSaturated',
  'axisDead',
  'gaugeBlind',
  'gaugeNoisy',
  'gaugeShifted',
  'axesDisagree',
  'lengthContradicted',
] as const;
type AdviceKind = (typeof ADVICE_KINDS)[number];

/**
 * A hint that is not an alarm and changes no verdict: a sentence, and what to check first. Gauge lengths in mm; null = not
 * tied to a stretch.
 */
export interface Advice {
  readonly kind: AdviceKind;
  readonly sentence: string;
  readonly hint: string;
  readonly fromMm: number | null;
  readonly toMm: number | null;
  /** Still continuing at the gauge. */
  readonly open: boolean;
}

/** The speed varies by about this share (common practice, no source). */
const SPEED_SPREAD_SHARE = 0.03;
const SURGE_CELL_MM = 10;

const mm = (value: number): string => value.toFixed(3);
const metresOf = (lengthMm: number): string => `${(lengthMm / 1000).toFixed(lengthMm < 9950 ? 1 : 0)} m`;

/** The likely causes are common practice, no source: hints, never verdicts. */
export function adviceOfTrend(advisory: StrandAdvisory, causes: readonly PossibleCause[]): Advice {
  const { kind, fromMm, toMm, open } = advisory;
  const text = kind === 'drift' ? driftText(advisory) : surgingText(advisory, causes);
  return { kind, ...text, fromMm, toMm, open };
}

function driftText({ beforeMm, afterMm, fromMm, toMm, open }: DriftAdvisory): Pick<Advice, 'sentence' | 'hint'> {
  const thicker = afterMm > beforeMm ? 'thicker' : 'thinner';
  const change = Math.abs(afterMm - beforeMm);
  const verb = open ? 'has been getting' : 'became';
  return {
    sentence: `The strand ${verb} ${thicker} over ${metresOf(toMm - fromMm)}: its mean went from ${mm(beforeMm)} to ${mm(afterMm)} mm (${mm(change)} mm).`,
    hint: 'Often a temperature that has not settled, or a hopper that runs low: check the soak time, refill.',
  };
}

function surgingText(
  { amplitudeMm, periodMm, periodS, fromMm, toMm, open }: SurgingAdvisory,
  causes: readonly PossibleCause[],
): Pick<Advice, 'sentence' | 'hint'> {
  const inTime = periodS === null ? '' : ` (${periodS.toFixed(1)} s)`;
  const swings = open ? 'swings' : 'swung';
  return {
    sentence: `The diameter ${swings} evenly by ±${mm(amplitudeMm)} mm every ${periodMm.toFixed(0)} mm${inTime} over ${metresOf(toMm - fromMm)}.`,
    hint: surgingHint(
      nameCauses(
        { frequency: 1 / periodMm, frequencyUncertainty: 0.5 / (SURGE_WINDOW_CELLS * SURGE_CELL_MM) },
        'length',
        causes,
        periodS === null ? null : { meanMmPerS: periodMm / periodS, spreadShare: SPEED_SPREAD_SHARE },
      ),
      causes.map(({ name }) => name),
    ),
  };
}

function surgingHint(named: readonly NamedCause[], known: readonly string[]): string {
  const best = named[0];
  if (best === undefined) {
    const compared = known.length > 0 ? `It does not fit: ${known.join(', ')}. ` : '';
    const missing = [
      known.includes('puller roller') ? '' : "Set the roller's circumference",
      known.includes('screw') ? '' : "send the screw's speed",
    ].filter((text) => text !== '');
    const wanted = missing.length === 0 ? '' : ` ${capital(missing.join(' and '))} to have it compared.`;
    return `${compared}A period that stays the same in length points at the puller's roller, one that stays the same in time at the screw.${wanted}`;
  }
  if (best.cause === 'puller roller')
    return `${best.sentence} It may run out of true or carry dirt: clean it, true it.`;
  if (best.cause === 'screw')
    return `${best.sentence} Feed that is too hot or too cold at zone 1, or a worn screw: check the temperature of zone 1 and the size of the regrind.`;
  if (best.cause === 'diameter control') return `${best.sentence} The loop may be tuned too aggressively: soften it.`;
  return best.sentence;
}

/** Null where no blob can hide. */
export function adviceOfBlindness(found: Blindness | null): Advice | null {
  if (found === null || !found.tooBlind) return null;
  const { surelySeenMm, pitchMm, averagedMm } = found;
  const averaged = averagedMm > 0 ? ` and each averages ${averagedMm.toFixed(1)} mm` : '';
  return {
    kind: 'blindness',
    sentence: `Blobs under ${surelySeenMm.toFixed(1)} mm may pass unseen: readings are ${pitchMm.toFixed(1)} mm apart${averaged}.`,
    hint: 'Blobs are 2 mm long or more. Read the gauge more often, or let the strand run slower.',
    fromMm: null,
    toMm: null,
    open: true,
  };
}

/** Null where noise hides no blob that is long enough to be seen. @param noiseMm standard deviation of the readings; null = not known */
export function adviceOfNoise(noiseMm: number | null): Advice | null {
  const share = noiseMm === null ? null : missedByNoiseAtMost(noiseMm);
  if (noiseMm === null || share === null) return null;
  return {
    kind: 'noise',
    sentence: `Readings scatter by ${noiseMm.toFixed(3)} mm: up to ${(Math.ceil(1000 * share) / 10).toFixed(1)} % of the blobs that only three of them see may be missed, and more of shorter ones.`,
    hint: 'Check the cable and the light of the gauge. If its readings are steady on a pin, the strand is rough: dry the feed longer.',
    fromMm: null,
    toMm: null,
    open: true,
  };
}

export const GAUGE_TROUBLES = ['gaugeFrozen', 'gaugeSaturated', 'axisDead'] as const;
type GaugeTroubleKind = (typeof GAUGE_TROUBLES)[number];

const TROUBLE_TEXT: Readonly<Record<GaugeTroubleKind, readonly [now: string, then: string, hint: string]>> = {
  gaugeFrozen: [
    'The gauge gave the exact same reading while the strand moved: what passed was not measured.',
    'The gauge gave the exact same reading OVER while the strand moved: what passed was not measured.',
    'Check the cable and the sensor. This stretch counts as unknown.',
  ],
  gaugeSaturated: [
    'The gauge is at the end of its range: the strand may be thicker than it says.',
    'The gauge was at the end of its range OVER: the strand may be thicker than it says.',
    'Check that the gauge is set for this diameter; the true peak may be higher.',
  ],
  axisDead: [
    'One of the two axes of the gauge is dead: only the other one is measured.',
    'One of the two axes of the gauge was dead OVER: only the other one was measured.',
    'Check the cable and the light of that axis. A blob on its side of the strand may pass unseen.',
  ],
};

/** @param stretch where the gauge had this trouble; null = now */
export function adviceOfGauge(
  kind: GaugeTroubleKind,
  stretch: { readonly fromMm: number; readonly toMm: number } | null,
): Advice {
  const [now, then, hint] = TROUBLE_TEXT[kind];
  if (stretch === null) return { kind, sentence: now, hint, fromMm: null, toMm: null, open: true };
  const { fromMm, toMm } = stretch;
  return { kind, sentence: then.replace('OVER', `over ${metresOf(toMm - fromMm)}`), hint, fromMm, toMm, open: false };
}

export function adviceOfLength({ fromMm, toMm, offMm }: LengthDoubt): Advice {
  return {
    kind: 'lengthContradicted',
    sentence: `The length counter and the speed disagreed over ${metresOf(toMm - fromMm)}: seen from the outer end, places there and further in may be off by up to ${metresOf(offMm)}.`,
    hint: 'The cut list allows for that. Check whether the measuring roller slips, and check the factors of len and v in Set-up.',
    fromMm,
    toMm,
    open: false,
  };
}

type OfSection = Pick<Section, 'kind' | 'doubt' | 'fromMm' | 'toMm' | 'open'>;

/** What to check about sections whose cause the gauge or the shape of the strand names: one advice for all of a kind. */
export function adviceOfSections(sections: readonly OfSection[]): readonly Advice[] {
  return SECTION_ADVICE.flatMap((kind) => {
    const all = sections.filter((section) => section.kind === kind || section.doubt === kind);
    if (all.length === 0) return [];
    // Strand that was not measured because of a shift may be out of tolerance because of it, too.
    const stretches = mergedStretches(all);
    const lengthMm = stretches.reduce((sum, { fromMm, toMm }) => sum + toMm - fromMm, 0);
    const over = `over ${metresOf(lengthMm)}${stretches.length > 1 ? ` in ${stretches.length} stretches` : ''}`;
    const open = all.some((section) => section.open);
    const [{ fromMm }, { toMm }] = [stretches[0]!, stretches.at(-1)!];
    return [{ kind, ...SECTION_TEXT[kind](over, open), fromMm, toMm, open }];
  });
}

const SECTION_ADVICE = ['outOfRound', 'gaugeBlind', 'gaugeNoisy', 'gaugeShifted', 'axesDisagree'] as const;

const SECTION_TEXT: Readonly<
  Record<(typeof SECTION_ADVICE)[number], (over: string, open: boolean) => Pick<Advice, 'sentence' | 'hint'>>
> = {
  outOfRound: (over, open) => ({
    sentence: `The strand ${open ? 'is' : 'was'} out of round ${over}.`,
    hint: 'Cooled from one side, or flattened by the puller while still soft: turn the fan, ease the puller, move it further from the die.',
  }),
  gaugeBlind: (over) => ({
    sentence: `The range of the gauge ends below the hotend limit: the strand that passed ${over} may contain blobs that it cannot show.`,
    hint: 'Set the gauge for thicker strand, and check its factor in Set-up.',
  }),
  gaugeNoisy: (over) => ({
    sentence: `The readings scattered so much ${over} that a blob cannot be distinguished from noise.`,
    hint: 'Check the cable and the light of the gauge. If its readings are steady on a pin, the strand is rough: dry the feed longer.',
  }),
  gaugeShifted: (over, open) => ({
    sentence: `The whole trace of the gauge jumped within one reading and ${open ? 'has stayed' : 'stayed'} there ${over}. Strand does not do that: the gauge shifted.`,
    hint: 'Look for dust in its window, and see whether it was pushed. Then check it with a pin: only that shows whether the strand before or after the jump was read correctly.',
  }),
  axesDisagree: (over, open) => ({
    sentence: `The two axes of the gauge ${open ? 'disagree' : 'disagreed'} ${over}, longer than any blob is.`,
    hint: 'Turn the strand in the gauge: if the difference turns with it, the strand is out of round; if it stays, one axis reads wrong.',
  }),
};
