import { COUNTER_MODULUS, type Role } from './names.ts';

/**
 * Lowest and highest value that a line may carry for a role, in the role's unit. Far wider than any extruder, because an
 * unmapped raw count should be seen, not hidden: only what two numbers run together give lies outside.
 * Common practice, no source.
 */
export function plausibleRange(role: Role): readonly [number, number] {
  switch (role) {
    case 'ms':
    case 'us':
    case 'n':
      return [0, COUNTER_MODULUS - 1];
    case 'len':
    case 'turns':
      return [-COUNTER_MODULUS, COUNTER_MODULUS];
    case 'rpm':
    case 'amp':
    case 'bar':
      return [-1e6, 1e6];
    default:
      if (role.startsWith('f')) return [0, 65_535];
      return /^(?:t|s)/.test(role) ? [-300, 1e5] : [-1e5, 1e5];
  }
}
