import { type Signal, signal } from '@preact/signals';
import { NumberField } from '../form/number-field.tsx';
import { length, metres } from '../format/numbers.ts';

const KEPT_AS = 'strandward-count-down';
/** From here on the digits stand out: slow down. */
const NEAR_MM = 1000;
const FROM_ZERO = { minimum: 0 };

/** Whether the digits count down; kept on this device. */
export const countsDown: Signal<boolean> = signal(globalThis.localStorage?.getItem(KEPT_AS) === 'on');

function setCountsDown(on: boolean): void {
  countsDown.value = on;
  localStorage.setItem(KEPT_AS, on ? 'on' : 'off');
}

export interface Left {
  readonly number: string;
  readonly after: string;
  readonly state: 'far' | 'near' | 'past';
}

/** The digits beside a hand-held counter: what is left, or how far it went too far. */
export function leftOf(targetMm: number, counterMm: number): Left {
  const leftMm = targetMm - counterMm;
  if (leftMm <= -5) return { number: metres(-leftMm), after: 'too far. Stop, and wind back or cut', state: 'past' };
  return {
    number: metres(Math.max(0, leftMm)),
    after: `left of ${length(targetMm)}`,
    state: leftMm < NEAR_MM ? 'near' : 'far',
  };
}

/** What a hand-held length counter shows. It cannot tell this page, so it is typed, or each metre is tapped. */
export function CountDown({ counterMm, set }: { counterMm: number; set: (mm: number) => void }) {
  if (!countsDown.value) {
    return (
      <p>
        <button type="button" class="plain count-down-switch" onClick={() => setCountsDown(true)}>
          Count down beside a hand-held counter
        </button>
      </p>
    );
  }
  return (
    <div class="count-down">
      <NumberField
        id="counter"
        label="The counter shows"
        value={counterMm / 1000}
        digits={2}
        unit="m"
        bounds={FROM_ZERO}
        set={(value) => value !== null && set(Math.round(value * 1000))}
      />
      <button type="button" onClick={() => set(counterMm + 1000)}>
        1 m more
      </button>
      <button type="button" onClick={() => set(counterMm + 10_000)}>
        10 m more
      </button>
      <button type="button" class="plain" onClick={() => setCountsDown(false)}>
        Show the whole length
      </button>
    </div>
  );
}
