import { useState } from 'preact/hooks';
import { unitFor } from '../../server/reading/units.ts';
import { NumberField } from '../form/number-field.tsx';
import { asProblem, type ServiceProblem } from '../service/request.ts';
import { ProblemNote } from '../shell/problem-note.tsx';
import { meanOf } from './incoming-store.ts';
import { calibrate as calibrated, type PinReading } from './pin-gauges.ts';
import { rawText } from './role-text.ts';
import type { SignalRow } from './signal-rows.ts';

/** A pin as entered. */
interface Pin {
  readonly knownMm: number | null;
  readonly shown: number | null;
}

interface Props {
  /** The field of the gauge. */
  readonly row: SignalRow;
  /** Saves the factor and the offset, in the unit of the row. */
  readonly calibrate: (factor: number, offset: number) => Promise<void>;
}

/** Factor and offset of the gauge from one or two pins of known diameter. */
export function PinGaugeAid({ row, calibrate }: Props) {
  const { name, role, unit, factor } = row;
  const [pins, setPins] = useState<readonly Pin[]>([
    { knownMm: 1.5, shown: null },
    { knownMm: 2, shown: null },
  ]);
  const [capturing, setCapturing] = useState<number | null>(null);
  const [fault, setFault] = useState<string | null>(null);
  const [problem, setProblem] = useState<ServiceProblem | null>(null);
  const change = (i: number, part: Partial<Pin>) =>
    setPins((old) => old.map((pin, k) => (k === i ? { ...pin, ...part } : pin)));
  const attempt = async (work: () => Promise<void>) => {
    setProblem(null);
    try {
      await work();
    } catch (thrown) {
      setProblem(asProblem(thrown));
    }
  };
  const capture = async (i: number) => {
    setCapturing(i);
    await attempt(async () => {
      const mean = await meanOf(name);
      setFault(mean === null ? 'No value arrives. See that the line sends its lines, then capture again.' : null);
      if (mean !== null) change(i, { shown: Number(mean.toPrecision(6)) });
    });
    setCapturing(null);
  };
  const read = pins.flatMap(({ knownMm, shown }): PinReading[] =>
    knownMm === null || shown === null ? [] : [{ knownMm, shown }],
  );
  // The aid calculates in mm; the row may be in inches or micrometres.
  const unitMm = (role === null ? null : unitFor(role, unit))?.factor ?? 1;
  const one = read.length === 1 && row.needsPins;
  const found = one ? null : calibrated(read, (factor ?? 1) * unitMm);
  return (
    <div class="pins">
      <p class="hint">Put a pin of known diameter in the gauge, wait, then capture the reading.</p>
      {pins.map((pin, i) => (
        <div class="pin-row" key={i}>
          <NumberField label={`Pin ${i + 1}, mm`} value={pin.knownMm} set={(knownMm) => change(i, { knownMm })} />
          <NumberField label="Raw reading" value={pin.shown} set={(shown) => change(i, { shown })} />
          <button
            type="button"
            disabled={capturing !== null}
            aria-label={`Capture pin ${i + 1}`}
            onClick={() => capture(i)}
          >
            {capturing === i ? `Capturing … ${rawText(row.last)}` : 'Capture'}
          </button>
        </div>
      ))}
      {fault && (
        <p class="fault" role="alert">
          {fault}
        </p>
      )}
      {problem && <ProblemNote problem={problem} />}
      {read.length === 2 && found === null && (
        <p class="fault">Both pins read the same, so no scale can be computed.</p>
      )}
      {found?.warning && <p class="hint">{found.warning}</p>}
      {found && (
        <p class="actions">
          <button
            type="button"
            class="main"
            onClick={() =>
              attempt(() =>
                calibrate(
                  Number((found.factor / unitMm).toPrecision(6)),
                  Number((found.offset / unitMm).toPrecision(6)),
                ),
              )
            }
          >
            Use this calibration
          </button>
          {row.last !== null && (
            <span class="hint">The gauge now shows {(row.last * found.factor + found.offset).toFixed(3)} mm.</span>
          )}
        </p>
      )}
    </div>
  );
}
