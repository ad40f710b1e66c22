/** Plays the script of a scenario: performs each action at its time, and recurring ones at random times. */

import type { Random } from '../model/random.ts';
import type { Action, Recurring, Scenario } from './scenario.ts';

interface Due {
  readonly atS: number;
  readonly order: number;
  readonly action: Action;
}

export class ScriptPlayer {
  readonly #random: Random;
  readonly #act: (action: Action) => void;
  readonly #recurring: { readonly what: Recurring; nextS: number }[];
  #queue: Due[] = [];
  #order = 0;
  #nextS = Number.NEGATIVE_INFINITY;

  constructor(scenario: Scenario, random: Random, act: (action: Action) => void) {
    this.#random = random;
    this.#act = act;
    for (const step of scenario.script) this.#push(step.atS, step);
    this.#recurring = (scenario.recurring ?? []).map((what) => ({
      what,
      nextS: what.firstS,
    }));
  }

  /** Perform all actions that are due. */
  step(timeS: number): void {
    if (timeS < this.#nextS) return;
    for (const recurring of this.#recurring) {
      while (recurring.nextS <= timeS) {
        for (const step of recurring.what.steps) this.#push(recurring.nextS + step.afterS, step);
        recurring.nextS += this.#random.between(...recurring.what.gapS);
      }
    }
    for (let due = this.#queue[0]; due !== undefined && due.atS <= timeS; due = this.#queue[0]) {
      this.#queue.shift();
      this.#act(due.action);
    }
    this.#nextS = Math.min(this.#queue[0]?.atS ?? Number.POSITIVE_INFINITY, ...this.#recurring.map((r) => r.nextS));
  }

  #push(atS: number, action: Action): void {
    this.#queue.push({ atS, order: this.#order++, action });
    this.#queue.sort((a, b) => a.atS - b.atS || a.order - b.order);
  }
}
