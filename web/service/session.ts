import { signal } from '@preact/signals';
import type { MeView } from '../../server/api/contract/devices.ts';

/** Who this browser is to the service; null = not known yet. */
export const me = signal<MeView | null>(null);

/** True once the service has refused a request because this device is not paired. */
export const unpaired = signal(false);
