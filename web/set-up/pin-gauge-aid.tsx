import { useState } from 'preact/hooks';
import { NumberField } from '../form/number-field.tsx';
import { parseNumber } from '../format/numbers.ts';
import { live } from '../service/live-store.ts';
import { lineFields } from './line-fields.ts';
import { calibrate, type PinReading } from './pin-gauges.ts';

/** Number of values to average, one per state frame: about two seconds. */
const AVERAGED = 8;

/** A pin as entered. */
interface Pin {
  readonly knownMm: number | null;
  readonly shown: number | null;
}

interface Props {
  /** The name of the gauge's value in the reading line. */
  readonly name: string;
  readonly factor: number;
  readonly columnNames: readonly string[];
  readonly set: (factor: number, offset: number) => void;
}

/** Factor and offset of the gauge from one or two pins of known diameter. */
export function PinGaugeAid({ name, factor, columnNames, set }: Props) {
  const [pins, setPins] = useState<readonly Pin[]>([
    { knownMm: 1.5, shown: null },
    { knownMm: 2, shown: null },
  ]);
  const [taking, setTaking] = useState<number | null>(null);
  const change = (i: number, part: Partial<Pin>) =>
    setPins((old) => old.map((pin, k) => (k === i ? { ...pin, ...part } : pin)));
  const take = (i: number) => {
    setTaking(i);
    const values: number[] = [];
    let line = '';
    const stop = live.subscribe((state) => {
      const link = state?.link;
      if (!link || link.lastLine === line) return;
      line = link.lastLine;
      const field = lineFields(line, link.shape, columnNames).find((one) => one.name === name);
      const value = parseNumber(field?.value ?? '');
      if (value !== null) values.push(value);
      if (values.length < AVERAGED) return;
      done();
    });
    const done = () => {
      clearTimeout(late);
      queueMicrotask(stop);
      setTaking(null);
      if (values.length > 0) {
        const mean = values.reduce((sum, value) => sum + value, 0) / values.length;
        change(i, { shown: Number(mean.toPrecision(6)) });
      }
    };
    const late = setTimeout(done, 5000);
  };
  const read = pins.flatMap(({ knownMm, shown }): PinReading[] =>
    knownMm === null || shown === null ? [] : [{ knownMm, shown }],
  );
  const found = calibrate(read, factor);
  return (
    <details class="pins">
      <summary>Calibrate with pin gauges</summary>
      <p class="hint">Lay a pin of known diameter into the gauge, let it rest, take what the gauge shows.</p>
      {pins.map((pin, i) => (
        <div class="role-row" key={i}>
          <NumberField label={`Pin ${i + 1}, mm`} value={pin.knownMm} set={(knownMm) => change(i, { knownMm })} />
          <NumberField label="The gauge shows" value={pin.shown} set={(shown) => change(i, { shown })} />
          <button type="button" disabled={taking !== null || name === ''} onClick={() => take(i)}>
            {taking === i ? 'Taking …' : 'Take it now'}
          </button>
        </div>
      ))}
      {read.length === 2 && found === null && (
        <p class="fault">The gauge shows the same for both pins: no line goes through them.</p>
      )}
      {found?.warning && <p class="hint">{found.warning}</p>}
      {found && (
        <p class="actions">
          <button
            type="button"
            onClick={() => set(Number(found.factor.toPrecision(6)), Number(found.offset.toFixed(4)))}
          >
            Fill in factor {found.factor.toPrecision(5)}, offset {found.offset.toFixed(4)} mm
          </button>
        </p>
      )}
    </details>
  );
}
