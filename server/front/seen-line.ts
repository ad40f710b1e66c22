import type { ReadingsFrame } from '../api/contract/live.ts';
import type { LiveState } from '../api/contract/live-state.ts';
import { emptyTrace, StrandBins } from '../strand/strand-bins.ts';

/** Parts of the strand on the way that are drawn. */
const COLUMNS = 48;
/** Lengths that are drawn if a line states an impossible one. */
const PATH_MM = { min: 100, max: 100_000, usual: 1000 };
const GAP_COLUMNS = 3;

/** The diameter along the strand from the gauge on, in equal parts; null = not measured. */
export interface SeenTrace {
  readonly spanMm: number;
  readonly min: (number | null)[];
  readonly max: (number | null)[];
}

/** What one line reports: its last state, and the newest strand in bounded memory. */
export class SeenLine {
  #state: LiveState | null = null;
  #bins = binsFor(PATH_MM.usual);
  #headMm = 0;
  readonly #trace = emptyTrace();

  get state(): LiveState | null {
    return this.#state;
  }

  /** @returns whether something urgent changed */
  hearState(state: LiveState): boolean {
    const before = this.#state;
    this.#state = state;
    const pathMm = pathOf(state);
    if (this.#bins.binMm * COLUMNS !== pathMm) {
      const wider = binsFor(pathMm);
      wider.join(this.#bins);
      this.#bins = wider;
    }
    return before === null || urgentPart(before) !== urgentPart(state);
  }

  hearReadings({ gaugeMm, diameterMm }: Pick<ReadingsFrame, 'gaugeMm' | 'diameterMm'>): void {
    const head = gaugeMm.at(-1);
    if (head === undefined) return;
    // The length starts again with each run.
    if (head < this.#headMm) this.#bins.clear();
    this.#headMm = head;
    this.#bins.addReadings(gaugeMm, diameterMm);
  }

  trace(): SeenTrace {
    const { binMm } = this.#bins;
    const spanMm = binMm * COLUMNS;
    const { x, min, max } = this.#bins.trace(this.#headMm, spanMm, GAP_COLUMNS * binMm, this.#trace);
    const columns: { min: (number | null)[]; max: (number | null)[] } = {
      min: new Array(COLUMNS).fill(null),
      max: new Array(COLUMNS).fill(null),
    };
    for (const [i, atM] of x.entries()) {
      const column = Math.min(COLUMNS - 1, Math.floor((atM * 1000) / binMm));
      columns.min[column] = min[i] ?? null;
      columns.max[column] = max[i] ?? null;
    }
    return { spanMm, ...columns };
  }
}

const binsFor = (pathMm: number) => new StrandBins(pathMm / COLUMNS, COLUMNS + 1);

function pathOf({ limits }: LiveState): number {
  const { gaugeToWinderMm } = limits;
  return gaugeToWinderMm > 0 ? Math.min(PATH_MM.max, Math.max(PATH_MM.min, gaugeToWinderMm)) : PATH_MM.usual;
}

function urgentPart({ severity, alarms }: LiveState): string {
  return `${severity} ${alarms.map(({ id, state, occurrences }) => `${id}${state}${occurrences}`).join(' ')}`;
}
