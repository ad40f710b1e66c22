import { useState } from 'preact/hooks';
import type { LiveState } from '../../server/api/contract/live-state.ts';
import type { SectionView } from '../../server/api/contract/runs-and-spools.ts';
import { arrivals, undecided } from '../alerting/arrivals.ts';
import { sectionName } from '../format/names.ts';
import { metres } from '../format/numbers.ts';
import { countdownS } from '../format/times.ts';
import { live } from '../service/live-store.ts';
import { BlobChoices } from './blob-choices.tsx';

/**
 * How long is left to cut out the next blob or thin spot before it reaches the winder, across the whole width, with the two
 * choices: it was cut out, or left on the spool. The choices stay for a while after it has passed.
 */
export function BlobCountdown({ wall = false }: { wall?: boolean }) {
  // Those put off until the others are answered.
  const [skipped, setSkipped] = useState<readonly string[]>([]);
  const state = live.value;
  if (state === null) return null;
  const queue = undecided(state);
  const section = queue.find(({ id }) => !skipped.includes(id)) ?? queue[0];
  if (section === undefined) return null;
  const next = arrivals(state.sections).find(({ id }) => id === section.id);
  if (wall && next === undefined) return null;
  const pathS = state.limits.gaugeToWinderMm / Math.max(0.1, state.now.speedMmPerS ?? 0);
  const isLast = queue.every(({ id }) => id === section.id || skipped.includes(id));
  return (
    <div
      class={`time-left ${next?.kind === 'blob' && next.sure ? 'urgent' : ''}`}
      data-testid={next === undefined ? 'passed-winder' : 'countdown'}
    >
      {next !== undefined && (
        <span class="time-left-bar" style={{ transform: `scaleX(${Math.min(1, next.inS / pathS)})` }} />
      )}
      <p key={next === undefined ? 'passed' : 'coming'} class="time-left-text">
        {next === undefined ? (
          passedText(section, state)
        ) : (
          <>
            <strong>{countdownS(next.inS)} s</strong> to cut out the {next.name.toLowerCase()}
          </>
        )}
        {wall && queue.length > 1 && `, then ${queue.length - 1} more`}
      </p>
      {!wall && (
        <BlobChoices
          key={section.id}
          section={section}
          others={queue.length - 1}
          next={() => setSkipped(isLast ? [] : [...skipped, section.id])}
        />
      )}
    </div>
  );
}

/** "Blob at 12.90 m, past the winder": it may have been cut out all the same. */
function passedText(section: SectionView, { now, limits }: LiveState): string {
  const isPast = section.fromGaugeMm <= now.gaugeMm - limits.gaugeToWinderMm;
  const at = metres(section.peakSpoolMm ?? section.fromSpoolMm ?? 0);
  return `${sectionName(section)} at ${at} m, ${isPast ? 'past the winder' : 'before the winder'}`;
}
