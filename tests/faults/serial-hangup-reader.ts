/**
 * A separate process that reads a port through the service's serial source and reports to its parent ten times a second.
 * Arguments: path of the port, ms of silence after which the source opens it again.
 */
import { ReadingIntake } from '../../server/reading/intake.ts';
import { serialSource } from '../../server/source/serial-source.ts';

export interface ReaderReport {
  readonly readings: number;
  /** Connections made so far. */
  readonly opened: number;
  /** CPU time of the process so far, user and system, ms. */
  readonly cpuMs: number;
  readonly atMs: number;
  readonly text: string;
}

const [path = '', silenceMs = ''] = process.argv.slice(2);
const intake = new ReadingIntake({
  shape: 'auto',
  checksum: 'auto',
  columnNames: [],
  roles: [],
  recordedStartMs: Date.now(),
});
let readings = 0;
let opened = 0;
let text = '';
const sink = {
  reading: () => {
    readings++;
  },
  note: () => {},
};

const source = serialSource({ path, baud: 115_200, silenceMs: Number(silenceMs) }, () => performance.now());
source.start({
  bytes: (chunk, arrivalMs) => intake.push(chunk, arrivalMs, sink),
  opened: () => {
    opened++;
    intake.opened();
  },
  status: (status) => {
    text += `${status.text}\n`;
  },
});

const timer = setInterval(() => {
  const { user, system } = process.cpuUsage();
  const report: ReaderReport = { readings, opened, cpuMs: (user + system) / 1000, atMs: performance.now(), text };
  process.send?.(report);
}, 100);

process.on('message', () => {
  clearInterval(timer);
  void source.stop().then(() => process.disconnect());
});
