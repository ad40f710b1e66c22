/** One connection that is open. Made by a `Connector`, read and closed by a `ReconnectingSource`. */
export interface Connection {
  /** Hand over what comes from now on; to be called once. */
  listen(bytes: (chunk: Uint8Array) => void): void;
  /** Kept when the other side ends the connection: why, as the end of a sentence ("the cable was unplugged"). */
  readonly lost: Promise<string>;
  /** Release it, whatever state it is in. Never fails and never hangs. */
  close(): Promise<void>;
}

/** Opens connections to one place. */
export interface Connector {
  /** For people: "serial port /dev/ttyUSB0". */
  readonly title: string;
  /** For sentences: "/dev/ttyUSB0". */
  readonly place: string;
  /** What it means that it is open but nothing comes. */
  readonly silence: string;
  /** @throws Error whose message is the end of a sentence: "it is in use by another program" */
  open(signal: AbortSignal): Promise<Connection>;
}
