import { diameter, gramsApart, metres, speed } from '../format/numbers.ts';
import { span } from '../format/times.ts';
import { live, staleForMs } from '../service/live-store.ts';
import { Term } from '../terms/term.tsx';
import { diameterStatus } from './diameter-status.ts';

/** The current figures, the diameter first and largest; in one row if `compact`. */
export function NowFigures({ compact = false }: { compact?: boolean }) {
  const state = live.value;
  if (!state) return <div class="now" />;
  const { now, spool, limits } = state;
  const { stage } = state.stage;
  const strandIsDue = stage === 'winding' || stage === 'purging';
  const status = diameterStatus(now.diameterMm, limits, strandIsDue);
  const empty = status.text === 'no strand' && !strandIsDue;
  const oldMs = staleForMs.value;
  const placesUnknown = state.notWatched.includes('places');
  return (
    // Another element, not the same one moved.
    <dl key={compact ? 'row' : 'full'} class={`now${compact ? ' compact' : ''}${oldMs === null ? '' : ' stale'}`}>
      <div class={`now-diameter ${oldMs === null ? status.tone : ''}`}>
        <dt>{compact ? 'Diameter' : 'Diameter at the gauge'}</dt>
        <dd>
          <span class={now.diameterMm === null || empty ? 'huge none' : 'huge'} data-testid="diameter-now">
            {empty ? 'no strand' : diameter(now.diameterMm)}
          </span>
          {!empty && <span class="unit">mm</span>}
          <span class="diameter-status" data-testid="diameter-status">
            {oldMs !== null ? `${span(oldMs)} old` : empty ? `${diameter(now.diameterMm)} mm` : status.text}
          </span>
        </dd>
      </div>
      {now.outOfRoundMm !== null && (
        <div class="now-round">
          <dt>
            <Term of="outOfRound">Out of round</Term>
          </dt>
          <dd class="momentary">
            {diameter(now.outOfRoundMm)} <span class="unit">mm</span>
          </dd>
        </div>
      )}
      <div class="now-speed">
        <dt>Speed</dt>
        <dd class="momentary">
          {speed(now.speedMmPerS)} <span class="unit">mm/s</span>
        </dd>
      </div>
      {spool ? (
        <>
          <div>
            <dt>On spool {spool.ordinal}</dt>
            <dd>
              {placesUnknown ? (
                'unknown'
              ) : (
                <>
                  {metres(spool.woundMm, 1)} <span class="unit">m</span>
                </>
              )}
            </dd>
          </div>
          {!placesUnknown && (
            <>
              <div class="now-weight">
                <dt>Weight</dt>
                <dd>
                  {gramsApart(spool.woundG)[0]} <span class="unit">{gramsApart(spool.woundG)[1]}</span>
                </dd>
              </div>
              <div>
                <dt>
                  <Term of="badStrand">Bad strand</Term>
                </dt>
                <dd>
                  {metres(spool.discardMm)} <span class="unit">m</span>
                </dd>
              </div>
            </>
          )}
        </>
      ) : (
        <div>
          <dt>Past the gauge</dt>
          <dd>
            {placesUnknown ? (
              'unknown'
            ) : (
              <>
                {metres(now.gaugeMm, 1)} <span class="unit">m</span>
              </>
            )}
          </dd>
        </div>
      )}
    </dl>
  );
}
