import {
  type Advice,
  adviceOfBlindness,
  adviceOfGauge,
  adviceOfLength,
  adviceOfNoise,
  adviceOfSections,
  adviceOfTrend,
} from '../../strand/advice.ts';
import { blindness, type GaugeOptics } from '../../strand/blindness.ts';
import type { LengthDoubt } from '../../strand/length-doubts.ts';
import { causesOf, type LineParts } from '../../strand/spectrum/named-causes.ts';
import type { StrandLimits } from '../../strand/strand-limits.ts';
import type { Examination } from '../analysis/spool-analysis.ts';

/** Settings of the line from which likely causes follow. */
export interface LineSetUp {
  readonly parts: LineParts;
  readonly optics: GaugeOptics;
}

/** Findings on a spool other than its sections, in order of gauge length. They change no verdict. */
export function adviceOnSpool(
  { found, trends, troubles, meanPitchMm, meanSpeedMmPerS, gaugeNoiseMm }: Examination,
  lengthDoubts: readonly LengthDoubt[],
  limits: StrandLimits,
  line: LineSetUp,
): readonly Advice[] {
  const causes = causesOf(line.parts);
  const stretches = [
    ...trends.map((trend) => adviceOfTrend(trend, causes)),
    ...troubles.map((trouble) => adviceOfGauge(trouble.kind, trouble)),
    ...adviceOfSections(found),
    ...lengthDoubts.map(adviceOfLength),
  ].sort((a, b) => (a.fromMm ?? 0) - (b.fromMm ?? 0));
  const seen = blindness(meanPitchMm ?? Number.NaN, meanSpeedMmPerS ?? Number.NaN, line.optics, limits);
  const ofGauge = [adviceOfBlindness(seen), adviceOfNoise(gaugeNoiseMm)].filter((advice) => advice !== null);
  return [...ofGauge, ...stretches];
}
