/** The log of the service. */
export interface Log {
  info(message: string, facts?: object): void;
  warn(message: string, facts?: object): void;
  error(message: string, facts?: object): void;
}
