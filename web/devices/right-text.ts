import type { Right } from '../../server/entities/device.ts';

export const RIGHT_TEXT: Readonly<Record<Right, string>> = {
  watch: 'may watch',
  act: 'may watch and act',
  manage: 'may manage',
};

/** What each right allows, for choosing one. */
export const RIGHT_CHOICES: readonly (readonly [Right, string])[] = [
  ['watch', 'Watch only'],
  ['act', 'Watch and act'],
  ['manage', 'Manage'],
];

export const RIGHT_HINT =
  'Act: answer alarms, mark and cut strand, set the stage. Manage: also settings, people, devices and deletion.';
