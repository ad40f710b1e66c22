import { unreadableText } from '../format/names.ts';
import { Shape } from './shape.tsx';

/** Entries of a run that cannot be read; nothing where all can. */
export function UnreadableNote({ rows, whose }: { rows: number; whose: 'its' | 'the run’s' }) {
  if (rows === 0) return null;
  return (
    <div class="problem" role="alert" data-testid="unreadable">
      <Shape of="abnormal" size={20} />
      <p>{unreadableText(rows, whose)}. The service’s log says which.</p>
    </div>
  );
}
