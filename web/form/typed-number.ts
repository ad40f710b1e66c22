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
  if (exclusiveMinimum !== undefined && value <= exclusiveMinimum) return `Must be more than ${exclusiveMinimum}.`;
  if (minimum !== undefined && value < minimum) return `Must be at least ${minimum}.`;
  if (maximum !== undefined && value > maximum) return `Must be at most ${maximum}.`;
  return null;
}

/** Whether a typed number can be used. */
export function isWithin(value: number | null, bounds: NumberBounds): value is number {
  return numberFault(value, bounds) === null;
}

/** "0.5 to 5", "more than 0, at most 1"; '' without bounds. */
export function boundsText(bounds: NumberBounds): string {
  const { minimum, exclusiveMinimum, maximum } = bounds;
  if (minimum !== undefined && maximum !== undefined) return `${minimum} to ${maximum}`;
  if (exclusiveMinimum !== undefined && maximum !== undefined)
    return `more than ${exclusiveMinimum}, at most ${maximum}`;
  if (minimum !== undefined) return `at least ${minimum}`;
  if (maximum !== undefined) return `at most ${maximum}`;
  return '';
}
