/** The machine has no room for another thread: here the process has opened as many files as it may. */
import { execFileSync } from 'node:child_process';
import { expect, it } from 'vitest';

const built = (name: string) => JSON.stringify(new URL(`../../.build/server/worker/${name}.js`, import.meta.url).href);

/** What a process prints that may open 256 files. Node raises the soft limit to the hard one, so both are set. */
const printedBy = (program: string): unknown =>
  JSON.parse(
    execFileSync(
      'sh',
      ['-c', 'ulimit -n 256 && exec "$0" --input-type=module --eval "$1"', process.execPath, program],
      {
        encoding: 'utf8',
      },
    ),
  );

const USE_UP = `
  import { closeSync, openSync } from 'node:fs';
  const files = [];
  try { for (;;) files.push(openSync('/dev/null')); } catch {}`;

it.skipIf(process.platform === 'win32')('refuses a long task with what to do, and does it once there is room', () => {
  const worker = `
    import { parentPort } from 'node:worker_threads';
    parentPort.on('message', ({ id, args }) => parentPort.postMessage({ id, result: args[0] + 1 }));`;
  const printed = printedBy(`
    const { openWorker } = await import(${built('open-worker')});
    ${USE_UP}
    const code = new URL('data:text/javascript,' + encodeURIComponent(${JSON.stringify(worker)}));
    const next = async () => {
      const worker = openWorker({ task: 'counts', code, create: null, start: null });
      const result = await worker.call('next', [1]);
      await worker.close();
      return result;
    };
    const refused = await next().catch(({ code, message, remedy }) => ({ code, message, remedy }));
    for (const file of files) closeSync(file);
    console.log(JSON.stringify([refused, await next()]));
    process.exit();`);
  expect(printed).toStrictEqual([
    {
      code: 'machine-full',
      message: expect.stringMatching(/no more threads, open files or memory: .*EMFILE/),
      remedy: expect.stringContaining('Readings are still recorded.'),
    },
    2,
  ]);
});

it.skipIf(process.platform === 'win32')(
  'goes on without the thread that ends it when it is blocked, and says so',
  () => {
    const printed = printedBy(`
    const { watchEventLoop } = await import(${built('event-loop-watch')});
    ${USE_UP}
    watchEventLoop((message, facts) => {
      for (const file of files) closeSync(file);
      console.log(JSON.stringify([message, facts]));
    });
    // Something that goes on.
    await new Promise((resolve) => setTimeout(resolve, 200));`);
    expect(printed).toStrictEqual([
      'Nothing ends this process if it is blocked',
      { why: expect.stringContaining('EMFILE') },
    ]);
  },
);
