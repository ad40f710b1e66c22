import type { RunDetail } from '../../server/api/contract/runs-and-spools.ts';
import type { Range } from '../chart/view-range.ts';
import { clock } from '../format/times.ts';
import { Shape } from '../shell/shape.tsx';
import { RunTraces, wholeRun } from './run-traces.tsx';

const SHOWN = 3;
/** Time shown before and after an event, ms: melt takes minutes to follow the heat. */
const BEFORE_MS = 10 * 60_000;
const AFTER_MS = 30 * 60_000;

type Trouble = RunDetail['troubles'][number];

/** In order of time; what follows soon after another is looked at together with it. */
function together(troubles: readonly Trouble[]): Trouble[][] {
  const groups: Trouble[][] = [];
  for (const one of troubles.toSorted((a, b) => a.atMs - b.atMs)) {
    const group = groups.at(-1);
    if (group?.[0] && one.atMs < group[0].atMs + AFTER_MS) group.push(one);
    else groups.push([one]);
  }
  return groups;
}

/** What went wrong besides single stretches, with the traces around it. */
export function RunEvents({ detail }: { detail: RunDetail }) {
  const { run, extent, troubles } = detail;
  if (troubles.length === 0 || !extent) return null;
  const groups = together(troubles);
  return (
    <section aria-labelledby="events-title">
      <h2 id="events-title">What went wrong</h2>
      <ol class="event-list">
        {groups.slice(0, SHOWN).map((events) => (
          <li key={events[0]?.atMs} data-testid="event">
            {events.map(({ atMs, title }) => (
              <p key={`${atMs} ${title}`}>
                <Shape of="danger" size={18} /> <b>{clock(atMs, run.timeZone)}</b> {title}
              </p>
            ))}
            <RunTraces
              detail={{ ...detail, extent }}
              from={around(events, extent)}
              zone={events.find(({ zone }) => zone !== null)?.zone ?? null}
              title={`around ${clock(events[0]?.atMs ?? 0, run.timeZone)}`}
            />
          </li>
        ))}
      </ol>
      {groups.length > SHOWN && <p class="fine">Later ones are among the alarms below.</p>}
    </section>
  );
}

function around(events: readonly Trouble[], extent: NonNullable<RunDetail['extent']>): Range {
  const [fromMs, toMs] = wholeRun(extent);
  const [first, last] = [events[0]?.atMs ?? fromMs, events.at(-1)?.atMs ?? toMs];
  const from = Math.min(Math.max(fromMs, first - BEFORE_MS), toMs - 1000);
  return [from, Math.max(from + 1000, Math.min(toMs, last + AFTER_MS))];
}
