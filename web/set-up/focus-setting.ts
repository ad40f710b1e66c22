import { namesIn } from '../../server/problem/pointer.ts';
import { focusField } from '../form/faults.ts';

/** Moves the focus to the field of a setting; of a setting that is a list of rows, to the field of the row. */
export function focusSetting(pointer: string | null): void {
  const [name = '', row, part] = namesIn(pointer ?? '');
  if (row === undefined) {
    focusField(`set-${name}`);
    return;
  }
  requestAnimationFrame(() => {
    const block = document.querySelectorAll(`[data-setting="${name}"] .row-block`)[Number(row)];
    const field =
      block?.querySelector<HTMLElement>(`[name="${part}"]`) ??
      block?.querySelector<HTMLElement>('input, select') ??
      document.getElementById(`set-${name}`);
    field?.focus();
  });
}
