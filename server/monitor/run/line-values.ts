import type { Run } from '../../entities/run.ts';
import type { Values } from '../../preparation/fields.ts';
import type { SampleReader } from '../ports/samples.ts';
import type { SpoolRepository } from '../spool/spool-repository.ts';
import { gaugeSpanWhileWound } from '../spool/wound-spool.ts';
import { setWhileWinding } from './process-while-winding.ts';

/** Fields of the preparation that the line sends itself: set-points and speed. Ended runs are read once. */
export class LineValues {
  readonly #samples: SampleReader;
  readonly #spools: SpoolRepository;
  readonly #ended = new Map<number, { readonly spans: string; readonly values: Values }>();

  constructor(samples: SampleReader, spools: SpoolRepository) {
    this.#samples = samples;
    this.#spools = spools;
  }

  async of(run: Run): Promise<Values> {
    const spans = this.#spools.ofRun(run).map(gaugeSpanWhileWound);
    if (spans.length === 0) return {};
    const key = JSON.stringify(spans);
    const known = this.#ended.get(run.id);
    if (known?.spans === key) return known.values;
    const { setpointsC, speedMmPerS } = await setWhileWinding(this.#samples, run.id, spans);
    const values = sentValues(setpointsC, speedMmPerS);
    if (run.endedMs !== null) this.#ended.set(run.id, { spans: key, values });
    return values;
  }
}

/** The last zone is the die. Rounded, so that noise is no change. A set-point of 0 is a zone that is off. */
function sentValues(setpointsC: readonly (number | null)[], speedMmPerS: number | null): Values {
  const values: Record<string, number> = {};
  for (const [i, setpointC] of setpointsC.entries()) {
    if (setpointC === null || setpointC < 1) continue;
    values[i === setpointsC.length - 1 ? 'dieC' : `zone${i + 1}C`] = Math.round(setpointC);
  }
  if (speedMmPerS !== null && speedMmPerS > 0) values.speedMmPerS = Number(speedMmPerS.toPrecision(2));
  return values;
}
