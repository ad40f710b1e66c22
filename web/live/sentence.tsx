import { connection, live } from '../service/live-store.ts';
import { Shape } from '../shell/shape.tsx';

/** The one sentence that says it all, as loud as it must be. */
export function Sentence() {
  const state = live.value;
  const lost = connection.value.phase === 'lost';
  const loudness = state?.loudness ?? 'calm';
  return (
    <div
      class={`sentence ${lost ? 'stale' : loudness}${(state?.sentence.length ?? 0) > 85 ? ' long' : ''}`}
      data-loudness={loudness}
    >
      <Shape of={loudness} size={40} />
      <h1 aria-live={loudness === 'danger' ? 'assertive' : 'polite'} data-testid="sentence">
        {state?.sentence ?? 'Asking the service how the line is …'}
      </h1>
    </div>
  );
}
