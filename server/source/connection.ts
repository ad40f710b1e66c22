/** An open connection. A `Connector` opens it; a `ReconnectingSource` reads and closes it. */
export interface Connection {
  /** Call `bytes` with everything that arrives from now on. To be called once. */
  listen(bytes: (chunk: Uint8Array) => void): void;
  /** Resolves when the other side ends the connection: the reason, as the end of a sentence ("the cable was unplugged"). */
  readonly lost: Promise<string>;
  /** Change the baud rate without closing, because opening resets many boards. Missing if there is none. */
  setRate?(baud: number): Promise<void>;
  /** Release it in any state. Never fails and never hangs. */
  close(): Promise<void>;
}

/** Opens connections to one place. */
export interface Connector {
  /** Shown to users: "serial port /dev/ttyUSB0". */
  readonly title: string;
  /** Used in sentences: "/dev/ttyUSB0". */
  readonly place: string;
  /** Reason for a reconnection if nothing has arrived, as the start of "… for 5 s". */
  readonly silence: string;
  /** Missing if there is none. */
  readonly baudRate?: number;
  /** @throws Error whose message is the end of a sentence: "it is in use by another program" */
  open(signal: AbortSignal): Promise<Connection>;
}
