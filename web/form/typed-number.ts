/** Bounds of a number, named as in JSON Schema, so that the schema of a setting can be passed directly. */
export interface NumberBounds {
  /** 'integer' asks for a whole number. */
  readonly type?: string;
  readonly minimum?: number;
  readonly exclusiveMinimum?: number;
  readonly maximum?: number;
}

/** What is wrong with a typed number; null = nothing. */
export function numberFault(value: number | null, bounds: NumberBounds = {}): string | null {
  const { type, minimum, exclusiveMinimum, maximum } = bounds;
  if (value === null) return 'Enter a number.';
  if (type === 'integer' && !Number.isInteger(value)) return 'Enter a whole number.';
  const tooSmall =
    value < (minimum ?? Number.NEGATIVE_INFINITY) || value <= (exclusiveMinimum ?? Number.NEGATIVE_INFINITY);
  return tooSmall || value > (maximum ?? Number.POSITIVE_INFINITY) ? `Must be ${boundsText(bounds)}.` : null;
}

/** Whether a typed number can be used. */
export function isWithin(value: number | null, bounds: NumberBounds): value is number {
  return numberFault(value, bounds) === null;
}

/** "between 0.5 and 5", "more than 0 and at most 1". */
function boundsText({ minimum, exclusiveMinimum, maximum }: NumberBounds): string {
  if (minimum !== undefined && maximum !== undefined) return `between ${minimum} and ${maximum}`;
  const least =
    exclusiveMinimum !== undefined ? `more than ${exclusiveMinimum}` : minimum !== undefined && `at least ${minimum}`;
  return [least, maximum !== undefined && `at most ${maximum}`].filter(Boolean).join(' and ');
}
