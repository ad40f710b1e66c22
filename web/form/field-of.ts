import { namesIn } from '../../server/problem/pointer.ts';

/**
 * The field of a form that a problem points to: the outermost name in its pointer that is a field there.
 * null = no field of the form, so the problem is shown for the whole form.
 */
export function fieldOf<Name extends string>(
  { pointer }: { readonly pointer: string | null },
  fields: readonly Name[],
): Name | null {
  for (const name of namesIn(pointer ?? '')) if (fields.includes(name as Name)) return name as Name;
  return null;
}

/** What is wrong with each field, in words. */
export type FaultTexts<Name extends string> = { readonly [N in Name]?: string };
