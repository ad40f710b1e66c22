import { afterAll, beforeAll, expect, it } from 'vitest';
import type { RunDetail, WindowView } from '../../server/api/contract/runs-and-spools.ts';
import { type TestService, woundFromLines } from '../api/test-service.ts';

const NAMES = ['__proto__', 'constructor', 'toString', 'hasOwnProperty'];
let service: TestService;
beforeAll(async () => {
  const lines = Array.from({ length: 600 }, (_, i) => {
    const more = NAMES.map((name, n) => `${name}=${i + n}`).join(' ');
    return `ms=${i * 20} len=${(i * 0.7).toFixed(1)} v=35 d=1.75 ${more}`;
  });
  service = await woundFromLines(lines);
});
afterAll(() => service.stop());

it.each(['csv', 'jsonl', 'parquet'])(
  'exports a run as %s whose signals are named like parts of an object',
  async (format) => {
    const { status, bytes } = await service.bytes(`/api/runs/1/export?format=${format}`);
    expect(status).toBe(200);
    const content = Buffer.from(bytes).toString('latin1');
    for (const name of NAMES) expect(content).toContain(name);
    if (format === 'jsonl')
      expect(JSON.stringify(JSON.parse(content.trim().split('\n').at(-1)!))).toContain('"__proto__":599');
  },
);

it('shows a window of these signals, and nothing for one that the run has not', async () => {
  const { extent } = await service.get<RunDetail>('/api/runs/1');
  const ask = `from=${extent!.fromMs}&to=${extent!.toMs}&columns=1&axis=time`;
  const { signals } = await service.get<WindowView>(`/api/runs/1/window?${ask}&signals=${NAMES.join()},valueOf`);
  expect(Object.keys(signals).filter((name) => NAMES.includes(name))).toStrictEqual(NAMES);
  expect(Object.getOwnPropertyDescriptor(signals, '__proto__')?.value.max).toStrictEqual([599]);
});
