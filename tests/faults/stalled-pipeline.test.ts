/** The pipeline stands although lines come: the process says so and ends, so that a supervisor starts it again. */
import { once } from 'node:events';
import { fileURLToPath } from 'node:url';
import { afterEach, expect, test, vi } from 'vitest';
import { IS_LONG_CHECK } from '../long-check.ts';
import { type RunningService, startService, until } from '../service/running-service.ts';
import { ScriptedBoard } from '../service/scripted-board.ts';

vi.setConfig({ testTimeout: 90_000 });

const PRELOAD = fileURLToPath(new URL('./stalled-pipeline-preload.mjs', import.meta.url));

const board = new ScriptedBoard();
let service: RunningService | undefined;
afterEach(async () => {
  await service?.remove();
  await board.stop();
});

// Its parts are tested in monitor/pipeline-watch.test.ts.
test.skipIf(!IS_LONG_CHECK)(
  '/ready gives the reason after 10 s; after 60 s the process ends with its own exit code and one line in the log',
  async () => {
    await board.start();
    const watching = await startService({ source: board.source, env: { NODE_OPTIONS: `--import=${PRELOAD}` } });
    service = watching;
    const ready = () => watching.send('GET', '/ready');
    await until(ready, ({ status }) => status === 200, 'the line is watched');
    const ended = once(watching.process, 'close');
    watching.process.kill('SIGUSR2');
    await until(ready, ({ body }) => /for \d\d s none has been processed/.test(body.title), 'the reason');
    expect(await ended).toEqual([5, null]);
    const reasons = watching
      .output()
      .split('\n')
      .filter((line) => /Reading lines arrive, but for 60 s none/.test(line));
    expect(reasons).toHaveLength(1);
    expect(JSON.parse(reasons[0]!)).toMatchObject({
      level: 50,
      msg: expect.stringMatching(/^Stopping: .*Start it again/),
    });
  },
);
