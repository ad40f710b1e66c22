import { signal } from '@preact/signals';
import type { MeView } from '../../server/api/contract/devices.ts';
import { includesRight, type Right } from '../../server/entities/device.ts';

/** Who this browser is to the service; null = not known yet. */
export const me = signal<MeView | null>(null);

/** True once the service has refused a request because this device is not paired. */
export const unpaired = signal(false);

/** Whether this device may do something. True until it is known: the service decides in any case. */
export const may = (needed: Right): boolean => me.value === null || includesRight(me.value.right, needed);
