import { isRole, type Role } from '../reading/names.ts';
import { unitFor } from '../reading/units.ts';
import type { Guess } from './guess.ts';

/** What a field is proposed to be. */
export interface ProposedRole {
  /** The field's name. */
  readonly name: string;
  readonly role: Role;
  /** Code of `unitsOf`; '' = the role has one unit only. */
  readonly unit: string;
  /** In that unit, a value is the number sent × this: the diameter of the wheel where turns of the puller are sent, else 1. */
  readonly factor: number;
  /** Name, unit and values all speak for it, and nothing comes near. */
  readonly sure: boolean;
  /** A raw count of the gauge: pins must turn it into mm before it is a diameter. */
  readonly needsPins: boolean;
}

export function asRole({ field, unit, sure }: Guess, role: string): ProposedRole {
  if (!isRole(role)) throw new TypeError(`“${role}” is not a role`);
  return { name: field.name, role, unit: unitFor(role, unit) === null ? '' : unit, factor: 1, sure, needsPins: false };
}
