import { sectionName, sectionTone, VERDICT_TEXT } from '../format/names.ts';
import { diameter, length, metres } from '../format/numbers.ts';
import { countdownS } from '../format/times.ts';
import { live, staleForMs } from '../service/live-store.ts';
import { Shape } from '../shell/shape.tsx';

/** The latest bad stretches, with their places and when they reach the winder. */
export function RecentSections() {
  const state = live.value;
  const sections = (state?.sections ?? []).filter((one) => one.verdict !== 'good').slice(0, 6);
  if (!state || sections.length === 0) return null;
  return (
    <section class="recent" aria-labelledby="recent-title">
      <header class="section-head">
        <h2 id="recent-title">Recent defects</h2>
        {state.spool && <a href={`/spool/${state.spool.id}`}>Read the spool</a>}
      </header>
      <ul class="stretch-list">
        {sections.map((one) => (
          <li key={one.id}>
            <Shape of={sectionTone(one)} size={16} />
            <span>
              {sectionName(one)}
              {one.peakMm !== null && ` ${diameter(one.peakMm)} mm`}, {length(one.toGaugeMm - one.fromGaugeMm)} long,{' '}
              {VERDICT_TEXT[one.verdict].toLowerCase()}
            </span>
            <span class="where">
              {staleForMs.value === null && one.reachesWinderInS !== null && one.reachesWinderInS > 0
                ? `winder in ${countdownS(one.reachesWinderInS)} s`
                : one.fromSpoolMm !== null
                  ? `at ${metres(one.peakSpoolMm ?? one.fromSpoolMm)} m`
                  : 'not on a spool'}
            </span>
          </li>
        ))}
      </ul>
    </section>
  );
}
