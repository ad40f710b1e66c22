/** How a message gets out of the house. Each has its adapter in `notify`. */
export const CHANNEL_KINDS = ['push', 'email', 'webhook', 'mqtt'] as const;
export type ChannelKind = (typeof CHANNEL_KINDS)[number];

export interface WebhookSettings {
  readonly kind: 'webhook';
  /** https, or http within the house. It may hold a token in its path: a secret. */
  readonly url: string;
  /** Key of the signature; '' = unsigned, as most chat services want it. */
  readonly secret: string;
  /** JSON with placeholders in its texts; '' = the message as it is. */
  readonly template: string;
}

export const MAIL_SECURITIES = ['tls', 'starttls', 'none'] as const;

export interface EmailSettings {
  readonly kind: 'email';
  readonly host: string;
  readonly port: number;
  /** `tls` from the first byte (usually port 465), `starttls` (587), `none` only without a password or on this machine. */
  readonly security: (typeof MAIL_SECURITIES)[number];
  /** '' = the server takes mail without signing in. */
  readonly user: string;
  readonly password: string;
  readonly from: string;
  readonly to: string;
  /** PEM of a certificate to trust beside the usual ones; '' = none. */
  readonly certificate: string;
}

export interface MqttSettings {
  readonly kind: 'mqtt';
  /** mqtt://host:1883 or mqtts://host:8883 */
  readonly address: string;
  readonly user: string;
  readonly password: string;
  /** First part of every topic, without a slash at its ends. */
  readonly baseTopic: string;
  readonly certificate: string;
}

/** A subscription as the browser gave it; the keys are base64url. */
export interface PushSettings {
  readonly kind: 'push';
  readonly endpoint: string;
  readonly p256dh: string;
  readonly auth: string;
}

export type ChannelSettings = WebhookSettings | EmailSettings | MqttSettings | PushSettings;

export interface Channel {
  readonly id: number;
  readonly name: string;
  readonly settings: ChannelSettings;
}

/** What is known of a channel from its last attempts. Times UTC ms. */
export interface ChannelState {
  readonly phase: 'untried' | 'working' | 'failing';
  readonly sinceMs: number;
  /** What is wrong and what to do, as told by the last attempt; '' while it works. */
  readonly text: string;
  readonly remedy: string;
  readonly lastDeliveredMs: number | null;
}

/** Fields that leave the service only towards the receiver: no log and no answer shows them. */
export const SECRET_FIELDS = {
  webhook: ['url', 'secret'],
  email: ['password'],
  mqtt: ['password'],
  push: ['endpoint', 'p256dh', 'auth'],
} as const satisfies Record<ChannelKind, readonly string[]>;

/** Where a channel leads, without its secrets: "chat.example", "mail.example, to anna@example". */
export function destination(settings: ChannelSettings): string {
  switch (settings.kind) {
    case 'webhook':
      return hostOf(settings.url);
    case 'push':
      return hostOf(settings.endpoint);
    case 'email':
      return `${settings.to}, by ${settings.host}`;
    case 'mqtt':
      return `${hostOf(settings.address)}, ${settings.baseTopic}/…`;
  }
}

function hostOf(address: string): string {
  return URL.canParse(address) ? new URL(address).host : '?';
}

/** Everything secret in a text of somebody else's (an error message) is blotted out. */
export function withoutSecrets(text: string, settings: ChannelSettings): string {
  const fields: Readonly<Record<string, string | number>> = { ...settings };
  let clean = text;
  for (const field of SECRET_FIELDS[settings.kind]) {
    const secret = String(fields[field] ?? '');
    if (secret.length < 4) continue;
    for (const form of [secret, encodeURIComponent(secret)]) clean = clean.replaceAll(form, '…');
    if (!URL.canParse(secret)) continue;
    const { pathname, search, password } = new URL(secret);
    for (const part of [pathname + search, pathname, password])
      if (part.length >= 4) clean = clean.replaceAll(part, '…');
  }
  return clean;
}
