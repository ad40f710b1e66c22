import { Problem } from '../problem/problem.ts';
import type { ChannelSettings } from './channel.ts';
import { parseTemplate } from './template.ts';

/**
 * Refuses what cannot work before it is saved or tried.
 * @throws Problem `bad-setting`, `bad-template`
 */
export function checkChannel(settings: ChannelSettings): void {
  switch (settings.kind) {
    case 'webhook':
      address(settings.url, ['https:', 'http:'], 'https://chat.example/hook');
      if (settings.template !== '') parseTemplate(settings.template);
      return;
    case 'push':
      address(settings.endpoint, ['https:', 'http:'], 'the subscription of a browser');
      if (bytesOf(settings.p256dh) !== 65 || bytesOf(settings.auth) !== 16) {
        throw bad('The keys of the push subscription are not whole.', 'Let the browser subscribe anew.');
      }
      return;
    case 'email':
      checkEmail(settings);
      return;
    case 'mqtt':
      address(settings.address, ['mqtt:', 'mqtts:'], 'mqtt://192.0.2.7:1883');
      checkTopic(settings.baseTopic);
  }
}

function checkEmail(settings: Extract<ChannelSettings, { kind: 'email' }>): void {
  if (!/^[^\s/:@]+$|^\[?[\da-f:]+\]?$/i.test(settings.host)) {
    throw bad(`“${settings.host}” is no name of a mail server.`, 'Give the name alone, as smtp.example.');
  }
  for (const one of [settings.from, ...settings.to.split(',')]) {
    if (!/^[^\s@<>]+@[^\s@<>]+$/.test(one.trim())) {
      throw bad(`“${one.trim()}” is no e-mail address.`, 'Give one such as anna@example.org; several with commas.');
    }
  }
  if ((settings.user === '') !== (settings.password === '')) {
    throw bad(
      settings.user === '' ? 'There is a password but no user name.' : 'There is a user name but no password.',
      'Give both, or neither where the server takes mail without signing in.',
    );
  }
  if (settings.security === 'none' && settings.password !== '' && !onThisMachine(settings.host)) {
    throw bad(
      'Without TLS the password would travel through the network in the open.',
      'Choose TLS or STARTTLS: every mail provider offers one of them.',
    );
  }
}

/** Topic names as MQTT 3.1.1, section 4.7 wants them. */
function checkTopic(topic: string): void {
  if (topic !== '' && !/[#+\0]/.test(topic) && !/^[/$]|\/$/.test(topic)) return;
  throw bad(
    `“${topic}” cannot be the beginning of the topics.`,
    'Give words with slashes between them, without # and +, such as workshop/strandward.',
  );
}

function address(text: string, protocols: readonly string[], example: string): void {
  const url = URL.canParse(text) ? new URL(text) : null;
  if (url === null || !protocols.includes(url.protocol) || url.hostname === '') {
    // The text may hold a token, so it is not repeated.
    throw bad('The address of the channel cannot be understood.', `Give one such as ${example}.`);
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

function bad(what: string, remedy: string): Problem {
  return new Problem('bad-setting', what, remedy);
}
