import type { Writable } from 'node:stream';
import type { Outlet } from './target.ts';

/** Lines to a stream such as stdout; a reader that closes its end (`| head`) ends the run without an error. */
export class StdoutOutlet implements Outlet {
  readonly gone: Promise<Error | undefined>;
  readonly #stream: Writable;
  #tellGone: (reason: Error | undefined) => void = () => {};
  readonly #onError = (error: NodeJS.ErrnoException) => this.#tellGone(error.code === 'EPIPE' ? undefined : error);

  constructor(stream: Writable) {
    this.#stream = stream;
    this.gone = new Promise((resolve) => {
      this.#tellGone = resolve;
    });
  }

  async open(): Promise<null> {
    this.#stream.on('error', this.#onError);
    return null;
  }

  write(chunk: string): Promise<void> {
    return new Promise((resolve) => {
      // An error comes through the stream's own event; here only the waiting must end.
      this.#stream.write(Buffer.from(chunk, 'latin1'), () => resolve());
    });
  }

  async close(): Promise<void> {
    this.#stream.off('error', this.#onError);
  }
}
