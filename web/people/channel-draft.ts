import type { ChannelInput, ChannelView } from '../../server/api/contract/channels.ts';

type Settings = ChannelInput['settings'];
export type Kind = Settings['kind'];

/** The initial settings of a new channel. */
const EMPTY: { readonly [K in Kind]: Extract<Settings, { kind: K }> } = {
  webhook: { kind: 'webhook', url: '', secret: '', template: '' },
  email: {
    kind: 'email',
    host: '',
    port: 587,
    security: 'starttls',
    user: '',
    password: '',
    from: '',
    to: '',
    certificate: '',
  },
  mqtt: {
    kind: 'mqtt',
    address: '',
    user: '',
    password: '',
    baseTopic: 'strandward',
    certificate: '',
    clientCertificate: '',
    clientKey: '',
  },
  push: { kind: 'push', endpoint: '', p256dh: '', auth: '' },
};

export function draftOf(kind: Kind, channel: ChannelView | null): ChannelInput {
  return {
    name: channel?.name ?? '',
    settings: { ...EMPTY[kind], ...channel?.settings } as Settings,
  };
}
