import type { Source, SourceListener } from '../../server/source/source.ts';
import { startTestService, type TestService } from '../api/test-service.ts';

/** The whole service in this process, and a board that prints what it is given. */
export interface FedService extends TestService {
  feed(text: string): void;
}

/** Enough for a spool with sections, alarms and a second zone. */
const WOUND_LINES = 3000;

/** One printed line of a spool with a blob, a neck and a stretch without strand. */
export function woundLine(i: number): string {
  const place = i % 1500;
  const d =
    place > 700 && place < 715 ? 2.2 : place > 900 && place < 915 ? 1.4 : place > 1100 && place < 1120 ? 0.2 : 1.75;
  const t = 200 + (i % 5) / 10;
  return `ms=${i * 20} n=${i} len=${(i * 0.7).toFixed(1)} v=35 d=${(d + (i % 7) / 1000).toFixed(3)} t1=${t} s1=200 p1=0.4 t2=${t - 5} s2=195 p2=0.3 odd=${i}`;
}

export async function startFedService(): Promise<FedService> {
  let listener: SourceListener | null = null;
  const source: Source = {
    title: 'fuzzed board',
    timing: 'recorded',
    resumable: false,
    start(heard) {
      listener = heard;
      heard.opened();
      heard.status({ phase: 'open', text: 'Reading.' });
    },
    stop: async () => {},
  };
  const service = await startTestService(source, { gaugeToWinderMm: 0 });
  const feed = (text: string) => listener?.bytes(Buffer.from(text, 'latin1'), null);
  service.monitor.setStage('winding', 'test');
  service.monitor.start();
  for (let i = 0; i < WOUND_LINES; i++) feed(`${woundLine(i)}\n`);
  return { ...service, feed };
}
