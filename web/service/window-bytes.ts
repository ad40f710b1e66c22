import type { WindowView } from '../../server/api/contract/runs-and-spools.ts';
import type { WindowHead } from '../../server/monitor/ports/window-bytes.ts';

/**
 * Decodes a window; the layout is described in `server/monitor/ports/window-bytes.ts`.
 * @throws Error if the bytes are not a window
 */
export function windowOf(buffer: ArrayBuffer): WindowView {
  const view = new DataView(buffer);
  if (buffer.byteLength < 8 || view.getUint32(0) !== 0x53575731) {
    throw new Error('The service answered with something that is not a window of readings.');
  }
  const headLength = view.getUint32(4, true);
  const head = JSON.parse(new TextDecoder().decode(new Uint8Array(buffer, 8, headLength))) as WindowHead;
  let at = 8 + headLength;
  const take = (): (number | null)[] => {
    const values = Array.from({ length: head.columns }, (_, i) => {
      const value = view.getFloat64(at + i * 8, true);
      return Number.isNaN(value) ? null : value;
    });
    at += head.columns * 8;
    return values;
  };
  const { axis, from, to } = head;
  const count = take() as number[];
  const timeMs = take();
  const gaugeMm = take();
  // No prototype: a signal may be named `__proto__`.
  const signals: WindowView['signals'] = Object.create(null);
  for (const name of head.signals) {
    const fields = Object.fromEntries(head.fields.map((field) => [field, take()]));
    signals[name] = fields as WindowView['signals'][string];
  }
  return { axis, from, to, count, timeMs, gaugeMm, signals };
}
