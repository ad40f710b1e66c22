/** A blocked event loop: the process cannot end itself, so a thread of it does, with a line in the log. */
import { spawn } from 'node:child_process';
import { once } from 'node:events';
import { expect, test } from 'vitest';

const WATCH = new URL('../../.build/server/worker/event-loop-watch.js', import.meta.url).href;
const EVERY_MS = 50;
const MISSED_MAX = 20;

test('a process that is blocked is ended by its own watch, one that works is not', async () => {
  const program = `
    const { watchEventLoop } = await import(${JSON.stringify(WATCH)});
    watchEventLoop(() => {}, ${EVERY_MS}, ${MISSED_MAX});
    await new Promise((resolve) => setTimeout(resolve, ${1.5 * EVERY_MS * MISSED_MAX}));
    console.log('has worked');
    // Blocks without taking the processor.
    Atomics.wait(new Int32Array(new SharedArrayBuffer(4)), 0, 0);`;
  const child = spawn(process.execPath, ['--input-type=module', '--eval', program], {
    stdio: ['ignore', 'pipe', 'inherit'],
  });
  let printed = '';
  child.stdout.on('data', (chunk: Buffer) => {
    printed += chunk;
  });
  // If the watch fails, nothing else would end it.
  const tooLong = setTimeout(() => child.kill('SIGTERM'), 20_000);
  const ended = await once(child, 'close');
  clearTimeout(tooLong);
  expect(ended).toStrictEqual([null, 'SIGKILL']);
  const [worked, line] = printed.split('\n');
  expect(worked).toBe('has worked');
  expect(JSON.parse(line!)).toMatchObject({
    level: 60,
    msg: expect.stringMatching(/^The process is blocked: .* 1 s\./),
  });
}, 30_000);

// pipe(7): 64 KiB fill a pipe, and `sleep` reads nothing.
test.skipIf(process.platform !== 'linux')(
  'it is also ended if no one reads its log',
  async () => {
    const program = `(await import(${JSON.stringify(WATCH)})).watchEventLoop(() => {}, ${EVERY_MS}, ${MISSED_MAX});
    setTimeout(() => Atomics.wait(new Int32Array(new SharedArrayBuffer(4)), 0, 0), ${2 * EVERY_MS});`;
    const command = `{ head -c 65536 /dev/zero; "$0" --input-type=module --eval "$1"; echo $? >&2; } | sleep 25`;
    const shell = spawn('sh', ['-c', command, process.execPath, program], {
      stdio: ['ignore', 'ignore', 'pipe'],
      detached: true,
    });
    const [said] = await once(shell.stderr, 'data');
    process.kill(-shell.pid!, 'SIGKILL');
    // The shell adds 128 to the number of the signal.
    expect(String(said)).toMatch(/Killed|137/);
  },
  30_000,
);
