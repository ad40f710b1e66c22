import type { PeopleStore } from '../escalation/people-store.ts';

/** Made at the first start and kept from then on. */
export function storedSecret(store: PeopleStore, name: string, make: () => string): string {
  const stored = store.secret(name);
  if (stored !== null) return stored;
  const made = make();
  store.keepSecret(name, made);
  return made;
}
