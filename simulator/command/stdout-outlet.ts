import type { Writable } from 'node:stream';
import type { Outlet } from './target.ts';

/** Sends lines to a stream such as stdout. A reader that closes its end (`| head`) ends the run without an error. */
export class StdoutOutlet implements Outlet {
  readonly ended: Promise<Error | undefined>;
  readonly #stream: Writable;
  #resolveEnded: (reason: Error | undefined) => void = () => {};
  readonly #onError = (error: NodeJS.ErrnoException) => this.#resolveEnded(error.code === 'EPIPE' ? undefined : error);

  constructor(stream: Writable) {
    this.#stream = stream;
    this.ended = new Promise((resolve) => {
      this.#resolveEnded = resolve;
    });
  }

  async open(): Promise<null> {
    this.#stream.on('error', this.#onError);
    return null;
  }

  write(chunk: string): Promise<void> {
    return new Promise((resolve) => {
      // Errors are reported by the stream's event.
      this.#stream.write(Buffer.from(chunk, 'latin1'), () => resolve());
    });
  }

  async close(): Promise<void> {
    this.#stream.off('error', this.#onError);
  }
}
