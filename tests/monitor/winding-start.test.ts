import { afterEach, describe, expect, it } from 'vitest';
import { createSimulation } from '../../simulator/index.ts';
import { casesOf } from '../long-check.ts';
import { type WatchedLine, watchLine } from './watched-line.ts';

let line: WatchedLine | null = null;
afterEach(async () => {
  await line?.remove();
  line = null;
});

/** Length wound before positions are compared. */
const WOUND_MM = 6000;
/** The counter counts whole turns, so the start is known to within half a turn. The simulator's core is 80 mm. */
const HALF_TURN_MM = (Math.PI * 82) / 2;

/** Feeds the simulated line until `WOUND_MM` is wound. @returns the length on the simulator's winder */
function wind(scenario: string, seed: number, also: readonly string[], gaugeToWinderMm: number): number {
  const simulation = createSimulation({ scenario, seed, rateHz: 50, also, gaugeToWinderMm });
  const { winder } = simulation.line;
  while (winder.woundMm < WOUND_MM) {
    if (simulation.timeS > 3600) throw new Error('the scenario winds nothing');
    line?.feed(simulation.step());
  }
  return winder.woundMm;
}

describe('the start of a spool', () => {
  it.each(
    casesOf(
      [
        ['evening', 1, 1200],
        ['evening', 4, 2500],
        ['steady', 2, 600],
        ['dampFeed', 3, 1200],
      ],
      1,
    ),
  )('is where the winder started to turn (%s, seed %d, %d mm of path)', async (name, seed, gaugeToWinderMm) => {
    const scenario = name.replace(/[A-Z]/g, (letter) => `-${letter.toLowerCase()}`);
    line = watchLine({ gaugeToWinderMm });
    const truthMm = wind(scenario, seed, ['turns'], gaugeToWinderMm);
    const { spool } = line.monitor.snapshot();
    if (spool === null) throw new Error('No spool is being wound.');
    const errorMm = line.monitor.woundMm(spool) - truthMm;
    // The roller's own error comes on top, at most 1 % in the simulator.
    expect(Math.abs(errorMm)).toBeLessThan(HALF_TURN_MM + WOUND_MM * 0.01);
    const { startGaugeMm, startedMs } = spool;
    expect(line.store.reader.spool(spool.id)).toMatchObject({ startGaugeMm, startedMs });
  });

  it('does not change after the winder has rested', async () => {
    line = watchLine();
    wind('steady', 2, ['turns'], 1200);
    const { spool, last } = line.monitor.snapshot();
    if (last === null) throw new Error('There is no reading.');
    const { values, layout } = last.reading;
    // Fed by hand from here: the strand continues, the counter rests for 3 m, then counts as before.
    const at = (name: string) => values[layout.signals.findIndex((one) => one.name === name)] ?? Number.NaN;
    const zones = layout.signals.flatMap(({ name }) => (/^[tsp]\d$/.test(name) ? [`${name}=${at(name)}`] : []));
    for (let i = 1; i <= 1000; i++) {
      const turns = at('turns') + (i < 200 ? 0 : Math.floor((i - 200) / 17));
      // Five times per second, 15 mm each.
      const ms = at('ms') + i * 200;
      line.feed(`ms=${ms} d=1.75 v=75 len=${at('len') + i * 15} turns=${turns} ${zones.join(' ')}\n`);
    }
    expect(line.monitor.snapshot().spool).toEqual(spool);
  });

  it('includes a blob after moving to where the turns started', async () => {
    line = watchLine({ gaugeToWinderMm: 1200, settleLengthMm: 50_000 });
    // One reading per millimetre. Winding starts at 5000 mm, with a turn every 250 mm.
    const feed = (fromMm: number, toMm: number) => {
      for (let mm = fromMm; mm < toMm; mm++) {
        const d = mm >= 4200 && mm < 4205 ? 2.2 : 1.75 + 0.004 * Math.sin(mm * 12.9898);
        const turns = Math.max(0, Math.floor((mm - 5000) / 250));
        line?.feed(`ms=${mm * 50} n=${mm} d=${d.toFixed(3)} v=20 len=${mm} turns=${turns}\n`);
      }
    };
    feed(0, 5700);
    line.monitor.setStage('winding', 'Ada');
    const estimated = line.monitor.snapshot().spool;
    expect(line.monitor.snapshot().sections).toEqual([]);
    feed(5700, 6200);
    const { spool, run, sections } = line.monitor.snapshot();
    if (estimated === null || spool === null || run === null) throw new Error('No spool is being wound.');
    expect(estimated.startGaugeMm - spool.startGaugeMm).toBeGreaterThan(400);
    const onSpool = sections.map(({ kind, fromMm }) => [kind, fromMm > spool.startGaugeMm]);
    expect(onSpool).toEqual([['blob', true]]);
    await line.restart();
    expect(line.store.reader.measuredSections(run.id)).toMatchObject([{ kind: 'blob' }]);
  });
});
