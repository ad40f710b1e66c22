import { rmSync } from 'node:fs';
import WebSocket from 'ws';
import { startBrowser } from '../browser/browser.ts';
import { newDataFolder } from '../service/running-service.ts';
import { ScriptedBoard } from '../service/scripted-board.ts';
import { median, noteWhenShown, shownMs } from './page.ts';
import type { BenchRow } from './report.ts';
import { startWatched } from './watched-service.ts';

const STARTS = 5;
const TARGET_MS = 1500;

/** The built service from its start to the first reading, with a board that sends all the time and a browser that is already open. */
export async function benchStart(): Promise<BenchRow[]> {
  const board = await new ScriptedBoard().start();
  const browser = await startBrowser();
  const listening: number[] = [];
  const received: number[] = [];
  const shown: number[] = [];
  const cpu: number[] = [];
  try {
    for (let n = 0; n < STARTS; n++) {
      const dataFolder = newDataFolder();
      const { page, close } = await browser.page();
      await page.addInitScript(noteWhenShown, '[data-testid=diameter-now]');
      const beganMs = performance.now();
      const service = await startWatched({ source: board.source, dataFolder, args: ['--log', 'warn'] });
      listening.push(performance.now() - beganMs);
      const socket = new WebSocket(`${service.address.replace('http', 'ws')}/live`);
      const first = new Promise<void>((resolve, reject) => {
        socket.on('error', reject);
        socket.on('message', (data: Buffer) => {
          if (data.toString().startsWith('{"kind":"readings"')) resolve();
        });
      }).then(() => received.push(performance.now() - beganMs));
      await page.goto(service.address);
      await shownMs(page);
      shown.push(performance.now() - beganMs);
      cpu.push(service.cpuS() * 1000);
      await first;
      socket.terminate();
      await close();
      await service.remove();
      rmSync(dataFolder, { recursive: true, force: true });
    }
  } finally {
    await browser.close();
    await board.stop();
  }
  const shownAt = median(shown);
  return [
    {
      what: `start → first reading on the page, median of ${STARTS}`,
      value: shownAt,
      unit: 'ms',
      target: `≤ ${TARGET_MS.toLocaleString('en')}`,
      met: shownAt <= TARGET_MS,
    },
    { what: '  of these until the service listens', value: median(listening), unit: 'ms' },
    { what: '  until a WebSocket has the first reading', value: median(received), unit: 'ms' },
    { what: 'processor time of the service until then', value: median(cpu), unit: 'ms' },
  ];
}
