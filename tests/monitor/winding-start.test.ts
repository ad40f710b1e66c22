import { afterEach, describe, expect, it } from 'vitest';
import { createSimulation } from '../../simulator/index.ts';
import { type WatchedLine, watchLine } from './watched-line.ts';

let line: WatchedLine | null = null;
afterEach(async () => {
  await line?.remove();
  line = null;
});

/** From the start of winding on, so much is wound before the positions are compared, mm. */
const WOUND_MM = 6000;
/** The counter counts whole turns: its first one tells the start to within half of one. The simulator's core is 80 mm. */
const HALF_TURN_MM = (Math.PI * 82) / 2;

/** Feeds the simulated line until it has wound that much. @returns what the winder itself knows to be on the spool, mm */
function wind(scenario: string, seed: number, also: readonly string[], gaugeToWinderMm: number): number {
  const simulation = createSimulation({ scenario, seed, rateHz: 50, also, gaugeToWinderMm });
  const { winder } = simulation.line;
  while (winder.woundMm < WOUND_MM) {
    if (simulation.timeS > 3600) throw new Error('the scenario winds nothing');
    line!.feed(simulation.step());
  }
  return winder.woundMm;
}

describe('the start of a spool', () => {
  it.each([
    ['evening', 1, 1200],
    ['evening', 4, 2500],
    ['steady', 2, 600],
    ['dampFeed', 3, 1200],
  ])(
    'lies where the winder began to turn, by its own count (%s, seed %d, %d mm of path)',
    async (name, seed, gaugeToWinderMm) => {
      const scenario = name.replace(/[A-Z]/g, (letter) => `-${letter.toLowerCase()}`);
      line = watchLine({ gaugeToWinderMm });
      const truthMm = wind(scenario, seed, ['turns'], gaugeToWinderMm);
      const { spool } = line.monitor.snapshot();
      expect(spool).not.toBeNull();
      const errorMm = line.monitor.woundMm(spool!) - truthMm;
      // What the roller counts wrong comes on top: at most 1 % (the simulator's own plant).
      expect(Math.abs(errorMm)).toBeLessThan(HALF_TURN_MM + WOUND_MM * 0.01);
      // The record says the same.
      expect(line.store.reader.spool(spool!.id)).toMatchObject({
        startGaugeMm: spool!.startGaugeMm,
        startedMs: spool!.startedMs,
      });
    },
  );

  it('is no other after the winder stood for a while', async () => {
    line = watchLine();
    wind('steady', 2, ['turns'], 1200);
    const { spool } = line.monitor.snapshot();
    const last = line.monitor.snapshot().last!;
    // By hand from here: the strand goes on, the counter rests for 3 m, then counts as before.
    const at = (name: string) =>
      last.reading.values[last.reading.layout.channels.findIndex((one) => one.name === name)]!;
    const zones = last.reading.layout.channels.flatMap(({ name }) =>
      /^[tsp]\d$/.test(name) ? [`${name}=${at(name)}`] : [],
    );
    for (let i = 1; i <= 1000; i++) {
      const turns = at('turns') + (i < 200 ? 0 : Math.floor((i - 200) / 17));
      // Five times a second, 15 mm each.
      const ms = at('ms') + i * 200;
      line.feed(`ms=${ms} d=1.75 v=75 len=${at('len') + i * 15} turns=${turns} ${zones.join(' ')}\n`);
    }
    expect(line.monitor.snapshot().spool).toEqual(spool);
  });

  it('that moves to where the turns began takes along a blob that was not on it as it was guessed', async () => {
    line = watchLine({ gaugeToWinderMm: 1200, settleLengthMm: 50_000 });
    // A reading a millimetre. The winder takes up strand at 5000 mm, a turn each 250 mm.
    const feed = (fromMm: number, toMm: number) => {
      for (let mm = fromMm; mm < toMm; mm++) {
        const d = mm >= 4200 && mm < 4205 ? 2.2 : 1.75 + 0.004 * Math.sin(mm * 12.9898);
        const turns = Math.max(0, Math.floor((mm - 5000) / 250));
        line!.feed(`ms=${mm * 50} n=${mm} d=${d.toFixed(3)} v=20 len=${mm} turns=${turns}\n`);
      }
    };
    feed(0, 5700);
    line.monitor.setStage('winding', 'Ada');
    const guessedMm = line.monitor.snapshot().spool!.startGaugeMm;
    expect(line.monitor.snapshot().sections).toEqual([]);
    feed(5700, 6200);
    const { spool, run, sections } = line.monitor.snapshot();
    expect(guessedMm - spool!.startGaugeMm).toBeGreaterThan(400);
    const onSpool = sections.map(({ kind, fromMm }) => [kind, fromMm > spool!.startGaugeMm]);
    expect(onSpool).toEqual([['blob', true]]);
    await line.restart();
    expect(line.store.reader.measuredSections(run!.id)).toMatchObject([{ kind: 'blob' }]);
  });
});
