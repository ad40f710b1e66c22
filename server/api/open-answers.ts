import type { ServerResponse } from 'node:http';
import { includesRight, type Right } from '../entities/device.ts';

/** Answers that are being sent to devices and tokens, so that they can be cut off. */
export class OpenAnswers {
  readonly #open = new Map<number, Map<ServerResponse, Right>>();

  /** @param needed the right that its route needs */
  add(credentialId: number, answer: ServerResponse, needed: Right): void {
    const answers = this.#open.get(credentialId) ?? new Map<ServerResponse, Right>();
    this.#open.set(credentialId, answers.set(answer, needed));
    answer.once('close', () => {
      answers.delete(answer);
      if (answers.size === 0 && this.#open.get(credentialId) === answers) this.#open.delete(credentialId);
    });
  }

  /**
   * Closes the connection of each that is not allowed any more, also of an upload that has not been answered yet.
   * @param held the right that the device or token has now; null = it was removed
   */
  cut(credentialId: number, held: Right | null): void {
    for (const [answer, needed] of this.#open.get(credentialId) ?? [])
      if (held === null || !includesRight(held, needed)) answer.destroy();
  }
}
