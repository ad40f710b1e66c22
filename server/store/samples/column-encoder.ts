import type { ByteWriter } from './byte-writer.ts';
import { GROUP, HAS_GAPS, KIND, NO_CORRECTIONS, SPAN_MAX } from './column-format.ts';
import { fitDecimal, POWERS, ulpsBetween } from './decimal-fit.ts';
import { writePresence } from './presence.ts';
import { riceParameter, writeRice } from './rice.ts';
import { commonDivisor, writeStream } from './stream-writer.ts';

/** Encodes columns of readings without loss. Holds scratch memory, so one instance per thread is enough. */
export class ColumnEncoder {
  #scaled = new Float64Array(0);
  #x = new Int32Array(0);
  #present = new Uint8Array(0);
  #packed = new Float64Array(0);
  readonly #streams: ByteWriter;
  readonly #ulps = new Uint32Array(GROUP);

  constructor(scratch: ByteWriter) {
    this.#streams = scratch;
  }

  /** Appends values[0…n) as a column; NaN = gap. */
  encode(to: ByteWriter, values: Float64Array, n: number): void {
    const count = this.#pack(values, n);
    if (count === 0) {
      to.u8(KIND.allGaps);
      return;
    }
    const v = this.#packed;
    if (count === n && isConstant(v, n)) {
      to.u8(KIND.constant);
      to.f64(v[0]!);
      return;
    }
    const fit = fitDecimal(v, count);
    const gaps = count < n ? HAS_GAPS : 0;
    const integers = fit.kind === 'raw' ? null : this.#toIntegers(count, fit.scale);
    this.#streams.reset();
    if (integers === null) {
      to.u8(KIND.raw | gaps);
      this.#rawGroups(to, n, gaps !== 0);
    } else {
      const near = fit.kind === 'near';
      to.u8((near ? KIND.near : KIND.integers) | gaps);
      to.u8(fit.scale);
      to.signed(integers.base);
      to.varint(integers.step);
      this.#integerGroups(to, n, gaps !== 0, near, POWERS[fit.scale]!);
    }
    to.raw(this.#streams.bytes.subarray(0, this.#streams.at));
  }

  /** Notes which values are present and removes the gaps. */
  #pack(values: Float64Array, n: number): number {
    if (this.#packed.length < n) {
      this.#packed = new Float64Array(n);
      this.#scaled = new Float64Array(n);
      this.#x = new Int32Array(n);
      this.#present = new Uint8Array(n);
    }
    let count = 0;
    for (let i = 0; i < n; i++) {
      const v = values[i]!;
      const here = Number.isNaN(v) ? 0 : 1;
      this.#present[i] = here;
      this.#packed[count] = v;
      count += here;
    }
    return count;
  }

  /** Fills x with small integers; null = their range is too large. */
  #toIntegers(count: number, scale: number): { base: number; step: number } | null {
    const power = POWERS[scale]!;
    const scaled = this.#scaled;
    const base = Math.round(this.#packed[0]! * power);
    let min = base;
    let max = base;
    for (let i = 0; i < count; i++) {
      const m = Math.round(this.#packed[i]! * power);
      scaled[i] = m;
      if (m < min) min = m;
      else if (m > max) max = m;
    }
    // Sensors often step by more than one unit of their last digit (0.25 °C): divide by the common step.
    let step = 0;
    for (let i = 0; i < count && step !== 1; i++) step = commonDivisor(step, Math.abs(scaled[i]! - base));
    if (step === 0) step = 1;
    if ((max - min) / step >= SPAN_MAX) return null;
    if (step === 1) for (let i = 0; i < count; i++) this.#x[i] = scaled[i]! - base;
    else for (let i = 0; i < count; i++) this.#x[i] = (scaled[i]! - base) / step;
    // −0 becomes 0, so that the base is read as it was written.
    return { base: base + 0, step };
  }

  #integerGroups(to: ByteWriter, n: number, gaps: boolean, near: boolean, power: number): void {
    const streams = this.#streams;
    let at = 0;
    for (let start = 0; start < n; start += GROUP) {
      const size = Math.min(GROUP, n - start);
      const count = gaps ? this.#countPresent(start, size) : size;
      if (gaps) to.varint(count);
      if (count === 0) continue;
      const streamStart = streams.at;
      if (count < size) writePresence(streams, this.#present.subarray(start, start + size), size);
      writeStream(streams, this.#x, at, count);
      if (near) this.#corrections(at, count, power);
      to.varint(streams.at - streamStart);
      at += count;
    }
  }

  #corrections(at: number, count: number, power: number): void {
    let sum = 0;
    for (let i = 0; i < count; i++) {
      const ulps = ulpsBetween(this.#packed[at + i]!, this.#scaled[at + i]! / power);
      const mapped = ulps < 0 ? -2 * ulps - 1 : 2 * ulps;
      this.#ulps[i] = mapped;
      sum += mapped;
    }
    if (sum === 0) {
      this.#streams.u8(NO_CORRECTIONS);
      return;
    }
    const k = riceParameter(sum, count);
    this.#streams.u8(k);
    writeRice(this.#streams, this.#ulps, count, k);
  }

  #rawGroups(to: ByteWriter, n: number, gaps: boolean): void {
    const streams = this.#streams;
    let at = 0;
    for (let start = 0; start < n; start += GROUP) {
      const size = Math.min(GROUP, n - start);
      const count = gaps ? this.#countPresent(start, size) : size;
      if (gaps) to.varint(count);
      if (count === 0) continue;
      const streamStart = streams.at;
      if (count < size) writePresence(streams, this.#present.subarray(start, start + size), size);
      for (let i = at; i < at + count; i++) streams.f64(this.#packed[i]!);
      to.varint(streams.at - streamStart);
      at += count;
    }
  }

  #countPresent(start: number, size: number): number {
    let count = 0;
    for (let i = start; i < start + size; i++) count += this.#present[i]!;
    return count;
  }
}

function isConstant(v: Float64Array, n: number): boolean {
  const first = v[0]!;
  for (let i = 1; i < n; i++) if (v[i] !== first) return false;
  // 0 and −0 compare as equal but must be distinguished.
  if (first === 0) for (let i = 1; i < n; i++) if (!Object.is(v[i], first)) return false;
  return true;
}
