import { pointerTo } from '../problem/pointer.ts';
import { Problem, within } from '../problem/problem.ts';
import type { ChannelSettings } from './channel.ts';
import { parseTemplate } from './template.ts';

/**
 * Refuses what cannot work before it is saved or tried.
 * @throws Problem `bad-setting`, `bad-template`: points to the field of the settings
 */
export function checkChannel(settings: ChannelSettings): void {
  switch (settings.kind) {
    case 'webhook':
      address('url', settings.url, ['https:', 'http:'], 'https://chat.example/hook');
      if (settings.template !== '') within('/template', () => parseTemplate(settings.template));
      return;
    case 'push':
      address('endpoint', settings.endpoint, ['https:', 'http:'], 'the subscription of a browser');
      if (bytesOf(settings.p256dh) !== 65 || bytesOf(settings.auth) !== 16) {
        const field = bytesOf(settings.auth) === 16 ? 'p256dh' : 'auth';
        throw bad(field, 'The keys of the push subscription are incomplete.', 'Let the browser subscribe again.');
      }
      return;
    case 'email':
      checkEmail(settings);
      return;
    case 'mqtt':
      address('address', settings.address, ['mqtt:', 'mqtts:'], 'mqtt://192.0.2.7:1883');
      checkTopic(settings.baseTopic);
  }
}

function checkEmail(settings: Extract<ChannelSettings, { kind: 'email' }>): void {
  if (!/^[^\s/:@]+$|^\[?[\da-f:]+\]?$/i.test(settings.host)) {
    throw bad('host', `“${settings.host}” is not the name of a mail server.`, 'Give the name alone, as smtp.example.');
  }
  const addresses = [settings.from, ...settings.to.split(',')];
  for (const [i, one] of addresses.entries()) {
    if (!/^[^\s@<>]+@[^\s@<>]+$/.test(one.trim())) {
      throw bad(
        i === 0 ? 'from' : 'to',
        `“${one.trim()}” is not an e-mail address.`,
        'Give one such as anna@example.org; several with commas.',
      );
    }
  }
  if ((settings.user === '') !== (settings.password === '')) {
    throw bad(
      settings.user === '' ? 'user' : 'password',
      settings.user === '' ? 'There is a password but no user name.' : 'There is a user name but no password.',
      'Give both, or neither where the server takes mail without signing in.',
    );
  }
  if (settings.security === 'none' && settings.password !== '' && !onThisMachine(settings.host)) {
    throw bad(
      'security',
      'Without TLS the password would travel through the network in the open.',
      'Choose TLS or STARTTLS: every mail provider offers one of them.',
    );
  }
}

/** Topic names as MQTT 3.1.1, section 4.7 wants them. */
function checkTopic(topic: string): void {
  if (topic !== '' && !/[#+\0]/.test(topic) && !/^[/$]|\/$/.test(topic)) return;
  throw bad(
    'baseTopic',
    `“${topic}” cannot be the beginning of the topics.`,
    'Give words with slashes between them, without # and +, such as workshop/strandward.',
  );
}

function address(field: string, text: string, protocols: readonly string[], example: string): void {
  const url = URL.canParse(text) ? new URL(text) : null;
  if (url === null || !protocols.includes(url.protocol) || url.hostname === '') {
    // The text may hold a token, so it is not repeated.
    throw bad(field, 'The address of the channel cannot be understood.', `Give one such as ${example}.`);
  }
}

function onThisMachine(host: string): boolean {
  return host === 'localhost' || host === '::1' || /^127(\.\d{1,3}){3}$/.test(host);
}

/** Bytes that a base64url text stands for; 0 if it is none. */
function bytesOf(text: string): number {
  const bare = text.replace(/=+$/, '');
  return /^[\w-]*$/.test(bare) ? Math.floor((bare.length * 3) / 4) : 0;
}

function bad(field: string, what: string, remedy: string): Problem {
  return new Problem('bad-setting', what, remedy, { pointer: pointerTo(field) });
}
