import { expect, it } from 'vitest';
import type { RunDetail, WindowView } from '../../server/api/contract/runs-and-spools.ts';
import { LostLines } from '../../server/reading/line-sequence.ts';
import { woundFromLines } from '../api/test-service.ts';

it('does not count a garbled line number as lost lines', () => {
  const lines = new LostLines();
  let lost = 0;
  for (const number of [1, 2, 3, 140_000_000_000, 140_000_000_001, 5, 6, 9, 2 ** 32 - 9, 2 ** 32 - 8]) {
    lines.next(number);
    lost += lines.lost;
  }
  // Only 7 and 8.
  expect(lost).toBe(2);
});

it('stores no value that no sensor can send, and keeps the rest of its line', async () => {
  const lines = Array.from({ length: 300 }, (_, i) => {
    const odd = i === 200 ? '1e308' : i === 201 ? '-1e200' : '7';
    return `ms=${i * 20} v=35 d=1.75 p1=${i < 250 ? 0.78 : 78} odd=${odd}`;
  });
  const service = await woundFromLines(lines);
  try {
    const { extent } = await service.get<RunDetail>('/api/runs/1');
    expect(extent!.count).toBe(300);
    const ask = `from=${extent!.fromMs}&to=${extent!.toMs}&columns=1&axis=time&signals=odd,p1`;
    const { signals } = await service.get<WindowView>(`/api/runs/1/window?${ask}`);
    expect(signals.odd).toMatchObject({ min: [7], max: [7] });
    // From there on in per cent, which nobody stated.
    expect(signals.p1).toMatchObject({ min: [0.78], max: [0.78] });
  } finally {
    await service.stop();
  }
});
