import { useState } from 'preact/hooks';
import { unitFor } from '../../server/reading/units.ts';
import { NumberField } from '../form/number-field.tsx';
import { asProblem, type ServiceProblem } from '../service/request.ts';
import { ProblemNote } from '../shell/problem-note.tsx';
import { meanOf } from './incoming-store.ts';
import { type Calibration, calibrate as calibrated, PIN_ERROR_MM, type PinReading } from './pin-gauges.ts';
import { rawText } from './role-text.ts';
import type { SignalRow } from './signal-rows.ts';

/** A pin as entered, with all its readings. */
interface Pin {
  readonly knownMm: number | null;
  readonly shown: readonly number[];
}

export type SaveCalibration = (factor: number, offset: number, uncertaintyMm: number | null) => Promise<void>;

interface Props {
  /** The field of the gauge. */
  readonly row: SignalRow;
  /** Saves the factor and the offset, in the unit of the row, and the uncertainty where it is known. */
  readonly calibrate: SaveCalibration;
}

const precise = (value: number): number => Number(value.toPrecision(6));

/** Factor, offset and uncertainty of the gauge from pins of known diameter. */
export function PinGaugeAid({ row, calibrate }: Props) {
  const { name, role, unit, factor } = row;
  const [pins, setPins] = useState<readonly Pin[]>([
    { knownMm: 1.5, shown: [] },
    { knownMm: 2, shown: [] },
    { knownMm: 1.75, shown: [] },
  ]);
  const [pinErrorMm, setPinErrorMm] = useState<number | null>(PIN_ERROR_MM);
  const [capturing, setCapturing] = useState<number | null>(null);
  const [fault, setFault] = useState<string | null>(null);
  const [problem, setProblem] = useState<ServiceProblem | null>(null);
  const change = (i: number, to: (pin: Pin) => Pin) => setPins((old) => old.map((pin, k) => (k === i ? to(pin) : pin)));
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
      setFault(mean === null ? 'No value arrives. Check that the board is sending, then capture again.' : null);
      if (mean !== null) change(i, (pin) => ({ ...pin, shown: [...pin.shown, precise(mean)] }));
    });
    setCapturing(null);
  };
  const read = pins.flatMap(({ knownMm, shown }): PinReading[] =>
    knownMm === null || shown.length === 0 ? [] : [{ knownMm, shown }],
  );
  // The aid calculates in mm; the row may be in inches or micrometres.
  const unitMm = (role === null ? null : unitFor(role, unit))?.factor ?? 1;
  const one = read.length === 1 && row.needsPins;
  const found = read.length === 0 || one ? null : calibrated(read, (factor ?? 1) * unitMm, pinErrorMm ?? PIN_ERROR_MM);
  return (
    <div class="pins">
      <p class="hint">
        Put a pin of known diameter in the gauge, wait, then capture the reading. Two pins set the scale. With a third,
        and each pin captured twice or more, the uncertainty follows as well.
      </p>
      {pins.map((pin, i) => (
        <div class="pin-row" key={i}>
          <NumberField
            label={`Pin ${i + 1}, mm`}
            value={pin.knownMm}
            set={(knownMm) => change(i, (old) => ({ ...old, knownMm }))}
          />
          <NumberField
            label={pin.shown.length > 1 ? `Raw reading, mean of ${pin.shown.length}` : 'Raw reading'}
            value={pin.shown.length === 0 ? null : precise(pin.shown.reduce((a, b) => a + b, 0) / pin.shown.length)}
            set={(shown) => change(i, (old) => ({ ...old, shown: shown === null ? [] : [shown] }))}
          />
          <button
            type="button"
            disabled={capturing !== null}
            aria-label={`Capture pin ${i + 1}${pin.shown.length > 0 ? ' again' : ''}`}
            onClick={() => capture(i)}
          >
            {capturing === i ? `Capturing … ${rawText(row.last)}` : pin.shown.length > 0 ? 'Capture again' : 'Capture'}
          </button>
        </div>
      ))}
      {read.length > 2 && <NumberField label="Pins accurate to, ± mm" value={pinErrorMm} set={setPinErrorMm} />}
      {fault && (
        <p class="fault" role="alert">
          {fault}
        </p>
      )}
      {problem && <ProblemNote problem={problem} />}
      {found !== null && 'fault' in found && <p class="fault">{found.fault}</p>}
      {found !== null && 'factor' in found && (
        <Result
          found={found}
          last={row.last}
          use={() =>
            attempt(() =>
              calibrate(precise(found.factor / unitMm), precise(found.offset / unitMm), found.uncertaintyMm),
            )
          }
        />
      )}
    </div>
  );
}

function Result({ found, last, use }: { found: Calibration; last: number | null; use: () => void }) {
  const { residuals, uncertaintyMm, warning } = found;
  return (
    <>
      {uncertaintyMm !== null && (
        <>
          <p>
            Accurate to ±{uncertaintyMm.toFixed(3)} mm (k = 2) between the thinnest and the thickest pin. With this
            calibration the gauge would be off by:
          </p>
          <ul class="residuals">
            {residuals.map(({ knownMm, offMm, readings }, i) => (
              <li key={i}>
                {knownMm.toFixed(2)} mm: {offMm < 0 ? '−' : '+'}
                {Math.abs(offMm).toFixed(3)} mm{readings > 1 && ` (${readings} readings)`}
              </li>
            ))}
          </ul>
        </>
      )}
      {warning && <p class="hint">{warning}</p>}
      <p class="actions">
        <button type="button" class="main" onClick={use}>
          Use this calibration
        </button>
        {last !== null && (
          <span class="hint">The gauge now shows {(last * found.factor + found.offset).toFixed(3)} mm.</span>
        )}
      </p>
    </>
  );
}
