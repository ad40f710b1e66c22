import type { PeopleView } from '../../server/api/contract/people.ts';
import { Shape } from '../shell/shape.tsx';

export const unreadable = (view: PeopleView, kind: PeopleView['unreadable'][number]['kind']) =>
  view.unreadable.filter((one) => one.kind === kind);

/** An entry that cannot be read: it can only be removed. */
export function UnreadableItem({ name, remove }: { name: string; remove: () => Promise<void> }) {
  return (
    <li class="unreadable" data-testid="unreadable">
      <Shape of="abnormal" size={20} />
      <div class="channel-text">
        <p>
          <strong>{name}</strong> <span class="failing">cannot be read from the record</span>
        </p>
      </div>
      <p class="row-actions">
        <button type="button" class="plain" aria-label={`Remove ${name}, which cannot be read`} onClick={remove}>
          Remove
        </button>
      </p>
    </li>
  );
}
