/** JSON pointers (RFC 6901), which name one field of a request, such as `/roles/0/factor`. */

export function pointerTo(...names: readonly (string | number)[]): string {
  return names.map((name) => `/${String(name).replaceAll('~', '~0').replaceAll('/', '~1')}`).join('');
}

/** The names in a pointer, outermost first. */
export function namesIn(pointer: string): readonly string[] {
  return pointer
    .split('/')
    .slice(1)
    .map((name) => name.replaceAll('~1', '/').replaceAll('~0', '~'));
}
