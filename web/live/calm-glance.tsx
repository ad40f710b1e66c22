import { useEffect, useState } from 'preact/hooks';
import type { LiveState, ZoneView } from '../../server/api/contract/live-state.ts';
import type { LiveSpool, RunView } from '../../server/api/contract/runs-and-spools.ts';
import { DOING_TEXT } from '../format/names.ts';
import { metres, temperature } from '../format/numbers.ts';
import { verdictWord } from '../runs/verdict-text.ts';
import { call } from '../service/call.ts';
import { lineNowMs, live } from '../service/live-store.ts';
import { isAbort, logFailure } from '../service/request.ts';
import { Shape } from '../shell/shape.tsx';
import { cutOutText, endText } from './calm-text.ts';

/** A longer headline needs the room on a phone, in letters. */
const LONGEST_HEADLINE = 88;

/**
 * What is worth a glance while nothing needs an answer: the whole spool so far, the zones before there is one, or the last
 * run once the line stands still. It has the room that an alarm would take.
 */
export function CalmGlance() {
  const state = live.value;
  if (state === null || state.sentence.length > LONGEST_HEADLINE) return null;
  const { stage, spool, zones } = state;
  if (spool !== null && spool.capacityMm !== null)
    return <SpoolSoFar state={state} spool={spool} capacityMm={spool.capacityMm} />;
  if (stage.stage === 'stopped') return <LastRun nowId={state.run?.id ?? null} />;
  return zones.length > 0 ? <ZonesNow zones={zones} /> : null;
}

/** The length that a full spool holds: what is wound of it, what will be cut out, and where the wanted amount is reached. */
function SpoolSoFar({ state, spool, capacityMm }: { state: LiveState; spool: LiveSpool; capacityMm: number }) {
  const { woundMm, wantedMm, toCutOut } = spool;
  const percent = (mm: number) => `${(Math.min(1, Math.max(0, mm / capacityMm)) * 100).toFixed(2)}%`;
  const sinceCutOut = cutOutText(spool);
  const end = endText(spool, state.now.speedMmPerS ?? 0, lineNowMs.value);
  return (
    <div class="calm-glance" data-testid="spool-so-far">
      <div class="so-far" aria-hidden="true">
        <span class="so-far-wound" style={{ width: percent(woundMm) }} />
        {toCutOut
          .filter(({ fromMm }) => fromMm < woundMm)
          .map(({ fromMm, toMm }) => (
            <span
              key={fromMm}
              class="so-far-bad"
              style={{ left: percent(fromMm), width: percent(Math.min(toMm, woundMm) - fromMm) }}
            />
          ))}
        {wantedMm !== null && wantedMm < capacityMm && (
          <span class="so-far-wanted" style={{ left: percent(wantedMm) }} />
        )}
      </div>
      <p class="so-far-text">
        <span>{sinceCutOut}</span>
        <span>{end}</span>
      </p>
    </div>
  );
}

/** The temperature of each zone on its way to the set-point. */
function ZonesNow({ zones }: { zones: readonly ZoneView[] }) {
  return (
    <ol class="calm-glance zones-now" data-testid="zones-now">
      {zones.map((zone) => (
        <li key={zone.zone} data-doing={zone.state}>
          <span class="zone-now-name">{zone.name}</span>
          <span class="zone-now-value">
            {temperature(zone.temperatureC, 0)}
            {zone.setpointC !== null && zone.setpointC > 0 && <> of {temperature(zone.setpointC, 0)}</>}
            <span class="unit">&nbsp;°C</span>
          </span>
          <span class="zone-now-bar" aria-hidden="true">
            <span style={{ transform: `scaleX(${shareOfHeat(zone)})` }} />
          </span>
          <span class="visually-hidden">{DOING_TEXT[zone.state]}</span>
        </li>
      ))}
    </ol>
  );
}

/** A workshop's temperature, at which nothing has been heated yet. */
const ROOM_C = 20;

function shareOfHeat({ temperatureC, setpointC }: ZoneView): number {
  if (temperatureC === null || setpointC === null || setpointC <= ROOM_C) return 0;
  return Math.min(1, Math.max(0, (temperatureC - ROOM_C) / (setpointC - ROOM_C)));
}

/** The line stands still: what its last run made, also if another has begun that has wound nothing. */
function LastRun({ nowId }: { nowId: number | null }) {
  const [run, setRun] = useState<RunView | null>(null);
  useEffect(() => {
    const controller = new AbortController();
    call('GET /api/runs', { query: { newest: 2 }, signal: controller.signal }).then(
      (newest) => setRun(newest.find(({ woundMm }) => woundMm > 0) ?? null),
      (thrown) => {
        if (!isAbort(thrown)) logFailure(thrown);
      },
    );
    return () => controller.abort();
  }, [nowId]);
  if (run === null) return null;
  const verdict = verdictWord(run);
  return (
    <p class="calm-glance last-run" data-testid="last-run">
      <Shape of={verdict.shape} size={20} />
      <span>
        {run.endedMs === null ? 'This run' : 'Last run'}: {metres(run.woundMm, 0)}&nbsp;m wound
        {run.endedMs === null ? ' so far' : `, ${verdict.text.toLowerCase()}`}.{' '}
        <a href={`/runs/${run.id}`}>Read how it went</a>
      </span>
    </p>
  );
}
