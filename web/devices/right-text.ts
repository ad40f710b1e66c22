import type { Right } from '../../server/entities/device.ts';

export const RIGHT_TEXT: Readonly<Record<Right, string>> = {
  watch: 'may watch',
  act: 'may watch and act',
  manage: 'may manage',
};

/** What each right allows, for choosing one. */
export const RIGHT_CHOICES: readonly (readonly [Right, string])[] = [
  ['watch', 'Watch only'],
  ['act', 'Act: answer alarms, mark, cut, set the stage'],
  ['manage', 'Manage: also settings, people and devices'],
];
