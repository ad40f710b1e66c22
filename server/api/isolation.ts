import type { FastifyHelmetOptions } from '@fastify/helmet';

/** The page needs none of these; sound, notifications and the screen's wake lock stay. */
export const PERMISSIONS_POLICY = [
  'camera',
  'microphone',
  'geolocation',
  'usb',
  'serial',
  'bluetooth',
  'payment',
  'midi',
]
  .map((name) => `${name}=()`)
  .join(', ');

/** What isolates the page and every answer from other pages. */
export const ISOLATION: FastifyHelmetOptions = {
  contentSecurityPolicy: {
    useDefaults: false,
    directives: {
      defaultSrc: ["'self'"],
      imgSrc: ["'self'", 'data:'],
      objectSrc: ["'none'"],
      baseUri: ["'none'"],
      formAction: ["'self'"],
      frameAncestors: ["'none'"],
      connectSrc: ["'self'"],
    },
  },
  crossOriginOpenerPolicy: { policy: 'same-origin' },
  crossOriginResourcePolicy: { policy: 'same-origin' },
  // The page is served over plain HTTP in a home network; requiring HTTPS would lock users out.
  strictTransportSecurity: false,
};

/** The same for refusals that are sent before any hook can add headers. They show nothing, so they may load nothing. */
export const REFUSAL_HEADERS = {
  'content-security-policy': "default-src 'none';frame-ancestors 'none'",
  'cross-origin-opener-policy': 'same-origin',
  'cross-origin-resource-policy': 'same-origin',
  'permissions-policy': PERMISSIONS_POLICY,
  'x-content-type-options': 'nosniff',
  'cache-control': 'no-store',
} as const;
