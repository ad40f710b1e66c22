import { expect, it } from 'vitest';
import { CutService } from '../../server/monitor/spool/cut-service.ts';
import { linePrinter } from '../../server/monitor/spool/printer-limits.ts';
import { spoolParts } from './spool-parts.ts';
import { type WatchedLine, watchLine } from './watched-line.ts';

function partsOf(line: WatchedLine) {
  const { spools, judge } = spoolParts(line);
  const { writer, spoolStatements: statements } = line.store;
  const clock = () => 1e12;
  const printer = () => linePrinter(line.monitor.settings);
  return { judge, cuts: new CutService({ writer, statements, spools, judge, clock, printer, changed: () => {} }) };
}

it('a spool cut during the run is judged again with sections found at its end later', async () => {
  const line = watchLine({ gaugeToWinderMm: 0, shortestCoilMm: 1000 });
  let mm = 0;
  let levelMm = 1.75;
  const feed = (toMm: number, diameterMm: number): void => {
    for (; mm < toMm; mm++) {
      // Strand changes over some length.
      levelMm += (diameterMm - levelMm) / 10;
      line.feed(`ms=${mm * 50} n=${mm} d=${(levelMm + 0.002 * Math.sin(mm * 12.9898)).toFixed(3)} v=20 len=${mm}\n`);
    }
  };
  feed(10, 1.75);
  line.monitor.setStage('winding', 'test');
  feed(20_000, 1.75);
  // Only strand after the end of the spool shows that this is out of tolerance.
  feed(20_150, 1.83);
  line.monitor.changeSpool('test');
  line.store.samples.flush();
  const { judge, cuts } = partsOf(line);
  expect((await cuts.tick(1, [{ action: 'discard', countedMm: 50 }], 0, 'test')).sections).toEqual([]);
  feed(20_600, 1.83);
  feed(25_000, 1.75);
  line.store.samples.flush();
  const judgement = await judge.judge(1);
  expect(judgement.sections).toMatchObject([{ kind: 'offTolerance' }]);
  expect(judgement.kept).toEqual((await partsOf(line).judge.judge(1)).kept);
  await line.remove();
}, 60_000);
