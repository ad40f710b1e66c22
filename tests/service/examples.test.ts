import { expect, test, vi } from 'vitest';
import type { RunDetail, RunView } from '../../server/api/contract/runs-and-spools.ts';
import { IS_LONG_CHECK } from '../long-check.ts';
import { startService, until } from './running-service.ts';

vi.setConfig({ testTimeout: 180_000 });

/** All three nights take eight seconds of processor time. */
test.runIf(IS_LONG_CHECK)(
  'a first start adds three example nights while it watches, and no later one does',
  async () => {
    const env = { STRANDWARD_EXAMPLES: 'on' };
    const source = 'simulator:steady';
    const first = await startService({ source, env });
    const runs = () => first.get<RunView[]>('/api/runs');
    await until(runs, (all) => all.some(({ example }) => !example), 'the simulated line is watched');
    const all = await until(
      runs,
      (some) => some.filter(({ example }) => example).length === 3,
      'three examples',
      120_000,
    );
    const [good, hot, bad] = all.filter(({ example }) => example);
    for (const night of [good!, hot!, bad!]) {
      expect(night.endedMs).not.toBeNull();
      expect(night.lot!.preparation).not.toBe('');
      expect(night.woundMm).toBeGreaterThan(40_000);
    }
    expect(good!.blobs).toBe(1);
    expect(bad!.blobs).toBeGreaterThan(5);
    const { alarms } = await first.get<RunDetail>(`/api/runs/${hot!.id}`);
    expect(alarms.map(({ alarm }) => alarm.type)).toEqual(
      expect.arrayContaining(['heaterLosingTemperature', 'strandLost']),
    );
    for (const { id } of [good!, hot!, bad!]) expect((await first.send('DELETE', `/api/runs/${id}`)).status).toBe(204);
    await first.stop();

    const again = await startService({ source, env, dataFolder: first.dataFolder });
    try {
      await until(
        () => again.get<RunView[]>('/api/runs'),
        (some) => some.length > 0,
        'the line is watched again',
      );
      expect((await again.get<RunView[]>('/api/runs')).some(({ example }) => example)).toBe(false);
    } finally {
      await again.remove();
    }
  },
);
