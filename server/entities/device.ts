/** What a caller may do; each right includes those before it. */
export const RIGHTS = ['metrics', 'watch', 'act', 'manage'] as const;
export type Right = (typeof RIGHTS)[number];

/** What a person's device may be given: with metrics alone no page can be shown. */
export const DEVICE_RIGHTS = ['watch', 'act', 'manage'] as const satisfies readonly Right[];
export type DeviceRight = (typeof DEVICE_RIGHTS)[number];

/** What a right allows, after “the right to …”. */
export const RIGHT_VERBS: Readonly<Record<Right, string>> = {
  metrics: 'read metrics',
  watch: 'watch',
  act: 'act',
  manage: 'manage',
};

/** A device is paired by a user; a token is given to a program. */
export type CredentialKind = 'device' | 'token';

/** A device or a program that may use the service. Its secret is not part of it. */
export interface Credential {
  readonly id: number;
  readonly kind: CredentialKind;
  readonly name: string;
  readonly right: Right;
  readonly createdMs: number;
  readonly createdBy: string;
  /** null = not used yet. */
  readonly lastSeenMs: number | null;
}

export const CREDENTIAL_NAME_MAX = 60;

/** Whether a caller with the right `held` may do what needs `needed`. */
export function includesRight(held: Right, needed: Right): boolean {
  return RIGHTS.indexOf(held) >= RIGHTS.indexOf(needed);
}

/** Kinds of device, as far as a browser reveals them; the first match counts. */
const KINDS: readonly (readonly [pattern: RegExp, text: string])[] = [
  [/iPhone/, 'iPhone'],
  [/iPad/, 'iPad'],
  [/Android.*Mobile/, 'Android phone'],
  [/Android/, 'Android tablet'],
  [/Windows/, 'Windows computer'],
  [/Macintosh/, 'Mac'],
  [/CrOS/, 'Chromebook'],
  [/Linux/, 'Linux computer'],
];

/** null = the browser does not reveal it. */
export function deviceKindOf(userAgent: string): string | null {
  return KINDS.find(([pattern]) => pattern.test(userAgent))?.[1] ?? null;
}
