import { signal } from '@preact/signals';

const STORE = 'strandward.access-key';

/** The key that the service asks for when it listens beyond this machine; '' = none known. */
export const accessKey = signal(localStorage.getItem(STORE) ?? '');

/** True while the service refuses us for want of a (right) key. */
export const keyWanted = signal(false);

export function setAccessKey(key: string): void {
  accessKey.value = key;
  localStorage.setItem(STORE, key);
  keyWanted.value = false;
}
