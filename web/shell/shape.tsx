import type { AlarmView } from '../../server/api/contract/alarms.ts';

/** Shapes for severity, so that it is never shown by colour alone. */
export type ShapeOf = 'danger' | 'abnormal' | 'notice' | 'calm';

export const PRIORITY_SHAPE: Record<AlarmView['priority'], ShapeOf> = {
  high: 'danger',
  medium: 'abnormal',
  low: 'notice',
};

const PATHS: Record<ShapeOf, string> = {
  danger: 'M7 1h10l6 6v10l-6 6H7l-6-6V7z',
  abnormal: 'M12 1.5 23.3 22H.7z',
  notice: 'M12 2a10 10 0 1 1 0 20 10 10 0 0 1 0-20z',
  calm: 'M12 6a6 6 0 1 1 0 12 6 6 0 0 1 0-12z',
};

/** An octagon, triangle, circle or small dot, with an exclamation mark where action is needed. */
export function Shape({ of, size = 24 }: { of: ShapeOf; size?: number }) {
  return (
    <svg class={`shape ${of}`} width={size} height={size} viewBox="0 0 24 24" aria-hidden="true" focusable="false">
      <path class="shape-body" d={PATHS[of]} />
      {(of === 'danger' || of === 'abnormal') && (
        <path class="shape-mark" d={of === 'danger' ? 'M12 6v7.5M12 16.6v1.9' : 'M12 9v6.2M12 17.4v1.9'} />
      )}
      {of === 'notice' && <path class="shape-mark" d="M12 10.5v6.5M12 6.8v1.9" />}
    </svg>
  );
}
