/** A run that cannot be written when its strand starts to move: readings wait for it. */
import { afterEach, expect, it } from 'vitest';
import type { RunDetail } from '../../server/api/contract/runs-and-spools.ts';
import { RecordFailing } from '../../server/store/index.ts';
import { sourceOf, startTestService, type TestService } from '../api/test-service.ts';

const REFUSED_S = 60;
const LINES = Array.from({ length: 4000 }, (_, i) => `ms=${i * 20} d=1.75 v=35 len=${(i * 0.7).toFixed(2)}\n`);

let service: TestService;
afterEach(() => service.stop());

it('keeps the readings of a minute during which the disk was full, and stores them with the run', async () => {
  const { source, over } = sourceOf(LINES.map((line) => Buffer.from(line)));
  service = await startTestService(source, { gaugeToWinderMm: 0 });
  const { writer } = service.store;
  const { beginRun } = writer;
  let refusals = 0;
  Object.assign(writer, {
    beginRun: (run: Parameters<typeof beginRun>[0]) => {
      refusals += 1;
      if (refusals <= REFUSED_S) throw new RecordFailing('full', 'The disk is full.', 'Free some space.');
      return beginRun(run);
    },
  });
  service.monitor.setStage('winding', 'test');
  service.monitor.start();
  await over;
  await service.monitor.stop();
  expect(refusals).toBe(REFUSED_S + 1);
  const { extent } = await service.get<RunDetail>('/api/runs/1');
  // The counter has no reading before the first line, so the strand moves from the second on.
  expect(extent!.count).toBeGreaterThanOrEqual(LINES.length - 1 - 50);
});
