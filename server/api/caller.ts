import type { FastifyRequest } from 'fastify';
import type { Person } from '../alarm/alarm.ts';
import { DEFAULT_WHO } from './routes/context.ts';

/** Kinds of device, as far as a browser tells them; the first that fits counts. */
const DEVICES: readonly (readonly [sign: RegExp, words: string])[] = [
  [/iPhone/, 'iPhone'],
  [/iPad/, 'iPad'],
  [/Android.*Mobile/, 'Android phone'],
  [/Android/, 'Android tablet'],
  [/Windows/, 'Windows computer'],
  [/Macintosh/, 'Mac'],
  [/CrOS/, 'Chromebook'],
  [/Linux/, 'Linux computer'],
];

/** Who calls, where they say so, and from where: `192.168.1.20, Android phone`. */
export function personOf(request: FastifyRequest): Person {
  const { by } = (request.body ?? {}) as { by?: unknown };
  return {
    name: typeof by === 'string' ? by : DEFAULT_WHO,
    from: whereFrom(request.ip, request.headers['user-agent']),
  };
}

/** An address of IPv4 that came in over IPv6 is told as the people who set up the network know it. */
export function whereFrom(address: string, userAgent: string | undefined): string {
  const plain = address.replace(/^::ffff:/, '');
  const device = DEVICES.find(([sign]) => sign.test(userAgent ?? ''))?.[1];
  return device === undefined ? plain : `${plain}, ${device}`;
}
