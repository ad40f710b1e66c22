import type { DeviceRight, Right } from '../../server/entities/device.ts';

export const RIGHT_TEXT: Readonly<Record<Right, string>> = {
  metrics: 'may read metrics only',
  watch: 'may watch',
  act: 'may watch and act',
  manage: 'may manage',
};

/** What each right allows, for choosing one. */
export const DEVICE_RIGHT_CHOICES: readonly (readonly [DeviceRight, string])[] = [
  ['watch', 'Watch only'],
  ['act', 'Watch and act'],
  ['manage', 'Manage'],
];

export const TOKEN_RIGHT_CHOICES: readonly (readonly [Right, string])[] = [
  ['metrics', 'Read metrics only'],
  ...DEVICE_RIGHT_CHOICES,
];

export const RIGHT_HINT =
  'Act: answer alarms, mark and cut strand, set the stage. Manage: also settings, people, devices and deletion.';
