import { messageOf, Problem } from '../problem/problem.ts';
import { requireAnswer } from '../worker/hanging-path.ts';
import { openSource } from './open-source.ts';
import type { SourceLimits } from './permitted-source.ts';
import type { Source } from './source.ts';
import { parseSourceAddress, type SourceAddress } from './source-address.ts';

/** Opens sources, but none whose drive hangs: opening looks at the file on the thread that watches. */
export class SourceOpener {
  readonly #clock: () => number;
  readonly #limits: SourceLimits;
  /** Why an address cannot be used now. */
  readonly #hanging = new Map<string, Problem>();

  constructor(clock: () => number, limits: SourceLimits) {
    this.#clock = clock;
    this.#limits = limits;
  }

  /** To be called before an address is used. `open` refuses it from when it did not answer until it does. */
  async ask(address: string, withinMs?: number): Promise<void> {
    const parsed = addressOf(address);
    if (parsed?.kind !== 'file') return;
    try {
      await Promise.all([parsed.path, ...this.#limits.recordingFolders].map((path) => requireAnswer(path, withinMs)));
      this.#hanging.delete(address);
    } catch (thrown) {
      const problem = new Problem(
        'source-unusable',
        `Cannot replay ${parsed.path}: ${messageOf(thrown)}`,
        'Switch it on, or choose another source.',
        { cause: thrown },
      );
      this.#hanging.set(address, problem);
    }
  }

  /** @param isFixed chosen by whoever started the service @throws as `openSource`; Problem `source-unusable` if its drive hangs */
  open(address: string, isFixed: boolean): Source {
    const hanging = this.#hanging.get(address);
    if (hanging !== undefined) throw hanging;
    return openSource(address, this.#clock, isFixed ? null : this.#limits);
  }
}

/** null = it is wrong, which `open` explains. */
function addressOf(text: string): SourceAddress | null {
  try {
    return parseSourceAddress(text);
  } catch {
    return null;
  }
}
