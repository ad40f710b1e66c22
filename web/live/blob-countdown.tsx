import { arrivals } from '../alerting/arrivals.ts';
import { counted } from '../format/numbers.ts';
import { countdownS } from '../format/times.ts';
import { live } from '../service/live-store.ts';

/** How long is left to cut out the next blob or thin spot before it reaches the winder, across the whole width. */
export function BlobCountdown() {
  const state = live.value;
  if (state === null) return null;
  const [next, ...rest] = arrivals(state.sections);
  if (next === undefined) return null;
  const { limits, now } = state;
  const pathS = limits.gaugeToWinderMm / Math.max(0.1, now.speedMmPerS ?? 0);
  return (
    <p class={`time-left ${next.kind === 'blob' && next.sure ? 'urgent' : ''}`} data-testid="countdown">
      <span class="time-left-bar" style={{ inlineSize: `${Math.min(100, (100 * next.inS) / pathS)}%` }} />
      <span class="time-left-text">
        <strong>{countdownS(next.inS)} s</strong> to cut out the {next.name.toLowerCase()}
        {rest.length > 0 && `, then ${counted(rest.length, 'more', 'more')}`}
      </span>
    </p>
  );
}
