import { describe, expect, it } from 'vitest';
import { MovingHead } from '../../web/strand-view/moving-head.ts';

describe('the head of the drawn strand', () => {
  it('moves evenly between frames and never back, although frames are late and uneven', () => {
    const head = new MovingHead();
    const speed = 35;
    let shown = Number.NaN;
    let longest = 0;
    for (let ms = 0; ms <= 10_000; ms += 16) {
      // A frame about every 50 ms, each up to 30 ms late.
      if (ms % 48 === 0) head.update((speed * (ms - ((ms * 7) % 30))) / 1000, speed, ms);
      const next = head.at(ms);
      if (ms > 1000) {
        expect(next).toBeGreaterThanOrEqual(shown);
        longest = Math.max(longest, next - shown);
      }
      shown = next;
    }
    expect(longest).toBeLessThan(3 * speed * 0.016);
    expect(Math.abs(shown - speed * 10)).toBeLessThan(speed * 0.1);
  });

  it('stops when no frames arrive, because the strand may not be moving', () => {
    const head = new MovingHead();
    head.update(1000, 50, 0);
    for (let ms = 0; ms < 5000; ms += 16) head.at(ms);
    expect(head.at(5000)).toBeLessThanOrEqual(1000 + 50 * 0.25 + 0.01);
  });

  it('jumps at once when the strand is somewhere else', () => {
    const head = new MovingHead();
    head.update(1000, 35, 0);
    head.at(16);
    head.update(250_000, 35, 32);
    expect(head.at(32)).toBe(250_000);
  });

  it('has no position before the first frame', () => {
    expect(new MovingHead().at(5)).toBeNaN();
  });
});
