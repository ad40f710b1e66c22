import { namesIn } from '../../server/problem/pointer.ts';

/**
 * The field of a form that a problem points to: the outermost name on the way that is a field there.
 * null = no field of the form, so the problem is shown for the whole form.
 */
export function fieldOf<Name extends string>(
  { pointer }: { readonly pointer: string | null },
  fields: readonly Name[],
): Name | null {
  for (const name of namesIn(pointer ?? '')) if (fields.includes(name as Name)) return name as Name;
  return null;
}

/** Moves the focus to a field that was refused, once what is said about it is shown. */
export function focusField(id: string): void {
  requestAnimationFrame(() => document.getElementById(id)?.focus());
}
