import { live } from '../service/live-store.ts';
import { Shape } from '../shell/shape.tsx';

/** That people cannot be reached is as bad as an alarm that nobody hears: it stands on the live page. */
export function ReachNote() {
  const troubles = live.value?.troubles ?? [];
  if (troubles.length === 0) return null;
  return (
    <div class="problem" role="alert" data-testid="reach-note">
      <Shape of="abnormal" size={20} />
      <p>
        {troubles.join(' ')} <a href="/people">See to it</a>
      </p>
    </div>
  );
}
