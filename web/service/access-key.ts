import { signal } from '@preact/signals';

const STORE = 'strandward.access-key';

/** The key that the service requires when it listens beyond this machine; '' = none. */
export const accessKey = signal(localStorage.getItem(STORE) ?? '');

/** True while the service refuses requests because the key is missing or wrong. */
export const keyWanted = signal(false);

export function setAccessKey(key: string): void {
  accessKey.value = key;
  localStorage.setItem(STORE, key);
  keyWanted.value = false;
}
