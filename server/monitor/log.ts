/** Where the service tells its operator what it does. */
export interface Log {
  info(message: string, facts?: object): void;
  warn(message: string, facts?: object): void;
  error(message: string, facts?: object): void;
}
