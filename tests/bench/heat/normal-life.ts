import { GREATEST_LOAD } from './scatter.ts';
import { type Claim, type Known, WatchedLine } from './watched-line.ts';

/** A claim in a life in which nothing breaks, and what was going on. */
export interface ClaimInLife extends Claim {
  readonly seed: number;
  readonly during: string;
}

/**
 * An evening in which nothing is wrong: heating up (at once or zone by zone), cold stock in the hopper, a fan, set-points up and
 * down, a gap in the line, a restart of the device, cooling down, one zone alone.
 */
export function normalLife(seed: number, known: Known): { claims: ClaimInLife[]; simulatedS: number } {
  const life = WatchedLine.new(seed, known).nextEvening();
  const { chance } = life;
  const t = life.usualSetpoints();
  const claims: ClaimInLife[] = [];
  const phase = (during: string, live: () => void) => {
    const before = life.claims.length;
    live();
    for (const claim of life.claims.slice(before)) claims.push({ ...claim, seed, during });
  };
  phase('cold', () => life.run(chance.between(5, 60)));
  phase('heat-up', () => {
    if (chance.next() < 0.3) life.set(0, 0, t[2]).run(chance.between(30, 300));
    life.set(...t).heatUp(chance.between(150, 500));
  });
  phase('cold stock', () => life.meddle(1, { load: chance.between(0.03, GREATEST_LOAD) }).run(300));
  phase('hopper low', () => life.meddle(1, {}).run(120));
  phase('fan', () => life.meddle(3, { load: chance.between(0.03, 0.15) }).run(200));
  phase('fan off', () => life.meddle(3, {}).run(200));
  phase('set-points up', () => {
    life.set(t[0] + chance.between(0, 10), t[1] + chance.between(0, 20), t[2] + chance.between(0, 10)).run(400);
  });
  phase('set-points down', () => {
    life.set(t[0] - chance.between(0, 20), t[1] - chance.between(0, 40), t[2] - chance.between(0, 10)).run(400);
  });
  phase('gap', () => {
    life.plant.runSilently(chance.between(15, 260));
    life.run(100);
  });
  phase('restart', () => {
    life.plant.restart();
    life.plant.runSilently(chance.between(0.5, 3));
    life.run(450);
  });
  phase('off', () => life.set(0, 0, 0).run(chance.between(100, 500)));
  phase('one zone on', () => life.set(0, t[1] - 40, 0).run(400));
  phase('all off', () => life.set(0, 0, 0).run(300));
  return { claims, simulatedS: life.plant.timeS };
}
