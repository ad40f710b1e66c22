import { Problem } from '../../problem/problem.ts';

/** An empty spool and how it is wound. All lengths in mm. */
export interface ReelShape {
  /** Diameter of the bare core. */
  readonly coreDiameterMm: number;
  /** Diameter of the flanges: the limit of winding. */
  readonly flangeDiameterMm: number;
  /** Between the flanges. */
  readonly widthMm: number;
  /** From the middle of one turn to the middle of the next; at least the strand's diameter. */
  readonly pitchMm: number;
}

/** The reel as the settings of the line describe it. */
export function reelShapeOf(settings: {
  readonly spoolCoreMm: number;
  readonly spoolFlangeMm: number;
  readonly spoolWidthMm: number;
  readonly windingPitchMm: number;
}): ReelShape {
  return {
    coreDiameterMm: settings.spoolCoreMm,
    flangeDiameterMm: settings.spoolFlangeMm,
    widthMm: settings.spoolWidthMm,
    pitchMm: settings.windingPitchMm,
  };
}

/** Throws the Problem `bad-setting`, which names the impossible dimension. */
export function checkReel(reel: ReelShape, strandMm: number): void {
  checkMeasure('coreDiameterMm', reel.coreDiameterMm);
  checkMeasure('flangeDiameterMm', reel.flangeDiameterMm);
  checkMeasure('widthMm', reel.widthMm);
  checkMeasure('pitchMm', reel.pitchMm);
  checkMeasure('strandMm', strandMm);
  if (reel.flangeDiameterMm < reel.coreDiameterMm)
    throw new Problem(
      'bad-setting',
      `The flange (${reel.flangeDiameterMm} mm) is smaller than the core (${reel.coreDiameterMm} mm).`,
      'Swap the two diameters.',
    );
  if (reel.pitchMm > reel.widthMm)
    throw new Problem(
      'bad-setting',
      `The pitch (${reel.pitchMm} mm) is wider than the spool (${reel.widthMm} mm).`,
      'Give the pitch of one turn, about the diameter of the strand.',
    );
}

function checkMeasure(name: string, value: number): void {
  if (!(value > 0) || !Number.isFinite(value))
    throw new Problem('bad-setting', `The spool's ${name} is ${value}.`, 'Measure it and give it in mm, above zero.');
}

export function turnsPerLayer(reel: ReelShape): number {
  // A width of a whole number of pitches must not lose a turn to rounding (12 / 0.1 is 119.999…).
  return Math.floor(reel.widthMm / reel.pitchMm + 1e-9);
}
