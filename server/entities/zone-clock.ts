/** Which offset from UTC the clocks of a zone had from when on. Pages bring it along: a browser's first use of Intl is slow. */
export interface ZoneClock {
  /** IANA name. */
  readonly zone: string;
  readonly offsets: readonly (readonly [fromMs: number, offsetMs: number])[];
  /** Unknown from then on. */
  readonly untilMs: number;
}

/** A pause of summer time lasts about 30 days. */
const LOOK_EVERY_MS = 10 * 86_400_000;

export function zoneClock(zone: string, fromMs: number, untilMs: number): ZoneClock {
  const offsets: [number, number][] = [];
  const at = (ms: number) => offsetByIntl(ms, zone) ?? 0;
  let offsetMs = at(fromMs);
  offsets.push([fromMs, offsetMs]);
  for (let ms = fromMs; ms < untilMs; ms += LOOK_EVERY_MS) {
    let after = Math.min(untilMs, ms + LOOK_EVERY_MS);
    const nextMs = at(after);
    if (nextMs === offsetMs) continue;
    for (let before = ms; after - before > 1; ) {
      const middle = Math.floor((before + after) / 2);
      if (at(middle) === offsetMs) before = middle;
      else after = middle;
    }
    offsets.push([after, nextMs]);
    offsetMs = nextMs;
  }
  return { zone, offsets, untilMs };
}

/** Null = beyond what the clock knows. */
export function offsetBy({ offsets, untilMs }: ZoneClock, ms: number): number | null {
  return ms < untilMs ? (offsets.findLast(([fromMs]) => fromMs <= ms)?.[1] ?? null) : null;
}

/** Null = a zone that is not known here. */
const formats = new Map<string, Intl.DateTimeFormat | null>();

/** Offset of a zone from UTC, ms: positive east of Greenwich; null = a zone that is not known here. */
export function offsetByIntl(ms: number, zone: string): number | null {
  if (!formats.has(zone)) formats.set(zone, formatOf(zone));
  const parts = formats.get(zone)?.formatToParts(ms);
  if (parts === undefined) return null;
  const of = (type: string) => Number(parts.find((part) => part.type === type)?.value ?? 0);
  const local = Date.UTC(of('year'), of('month') - 1, of('day'), of('hour'), of('minute'), of('second'));
  return local - Math.floor(ms / 1000) * 1000;
}

function formatOf(timeZone: string): Intl.DateTimeFormat | null {
  try {
    return new Intl.DateTimeFormat('en-GB', {
      timeZone,
      hourCycle: 'h23',
      year: 'numeric',
      month: 'numeric',
      day: 'numeric',
      hour: 'numeric',
      minute: 'numeric',
      second: 'numeric',
    });
  } catch {
    return null;
  }
}
