import type { ServerResponse } from 'node:http';

/** Answers that are being sent to devices and tokens, so that they can be cut off. */
export class OpenAnswers {
  readonly #open = new Map<number, Set<ServerResponse>>();

  add(credentialId: number, answer: ServerResponse): void {
    const answers = this.#open.get(credentialId) ?? new Set();
    this.#open.set(credentialId, answers.add(answer));
    answer.once('close', () => {
      answers.delete(answer);
      if (answers.size === 0 && this.#open.get(credentialId) === answers) this.#open.delete(credentialId);
    });
  }

  /** Closes the connection of each, also of an upload that has not been answered yet. */
  cut(credentialId: number): void {
    for (const answer of this.#open.get(credentialId) ?? []) answer.destroy();
  }
}
