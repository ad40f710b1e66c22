import { pointerTo } from '../problem/pointer.ts';
import { Problem, within } from '../problem/problem.ts';
import { type ChannelSettings, signInOfAddress } from './channel.ts';
import { parseTemplate } from './template.ts';

/**
 * Checks the settings of a channel before they are saved or tried.
 * @throws Problem `bad-setting`, `bad-template`, which point to the field
 */
export function checkChannel(settings: ChannelSettings): void {
  switch (settings.kind) {
    case 'webhook':
      address('url', settings.url, ['https:', 'http:'], 'https://chat.example/hook');
      if (settings.template !== '') within('/template', () => parseTemplate(settings.template));
      return;
    case 'push':
      address('endpoint', settings.endpoint, ['https:', 'http:'], 'https://push.example/…');
      if (bytesOf(settings.p256dh) !== 65 || bytesOf(settings.auth) !== 16) {
        const field = bytesOf(settings.auth) === 16 ? 'p256dh' : 'auth';
        throw bad(field, 'The keys of the push subscription are incomplete.', 'Subscribe again in the browser.');
      }
      return;
    case 'email':
      checkEmail(settings);
      return;
    case 'mqtt':
      address('address', settings.address, ['mqtt:', 'mqtts:'], 'mqtt://192.0.2.7:1883');
      checkBroker(settings);
      checkTopic(settings.baseTopic);
  }
}

/**
 * A user of the fields with the password of the address, or the other way round, would be neither.
 * @throws Problem `bad-setting`
 */
export function checkOneSignIn(settings: ChannelSettings): void {
  const signIn = signInOfAddress(settings);
  if (settings.kind !== 'mqtt' || signIn === null) return;
  const { user, password } = settings;
  const isSamePassword = password === '' || signIn.password === '' || password === signIn.password;
  if ((user === '' || user === signIn.user) && isSamePassword) return;
  throw bad(
    'address',
    'The address and the fields give different users or passwords.',
    'Enter user and password only in their fields, and leave them out of the address.',
  );
}

function checkBroker({ address, user, password }: Extract<ChannelSettings, { kind: 'mqtt' }>): void {
  const { pathname, search } = new URL(address);
  if (!/^\/?$/.test(pathname) || search !== '') {
    throw bad(
      'address',
      `The address of a broker has no ${search === '' ? 'path' : 'query'}.`,
      'Give only its name and port, such as mqtt://192.0.2.7:1883. Topics have a field of their own.',
    );
  }
  if (user === '' && password !== '') throw noUser('Give both, or neither if the broker needs no sign-in.');
}

function checkEmail(settings: Extract<ChannelSettings, { kind: 'email' }>): void {
  if (!/^[^\s/:@]+$|^\[?[\da-f:]+\]?$/i.test(settings.host)) {
    throw bad(
      'host',
      `“${settings.host}” is not the name of a mail server.`,
      'Give only the name, such as smtp.example.',
    );
  }
  const addresses = [settings.from, ...settings.to.split(',')];
  for (const [i, one] of addresses.entries()) {
    if (!/^[^\s@<>]+@[^\s@<>]+$/.test(one.trim())) {
      throw bad(
        i === 0 ? 'from' : 'to',
        `“${one.trim()}” is not an e-mail address.`,
        'Give an address such as anna@example.org. Separate several with commas.',
      );
    }
  }
  if ((settings.user === '') !== (settings.password === '')) {
    const remedy = 'Give both, or neither if the server needs no sign-in.';
    throw settings.user === '' ? noUser(remedy) : bad('password', 'There is a user name but no password.', remedy);
  }
  if (settings.security === 'none' && settings.password !== '' && !onThisMachine(settings.host)) {
    throw bad(
      'security',
      'Without TLS the password would be sent unencrypted.',
      'Choose TLS or STARTTLS. Every mail provider offers one of them.',
    );
  }
}

/** Topic names according to MQTT 3.1.1, section 4.7. */
function checkTopic(topic: string): void {
  if (topic !== '' && !/[#+\0]/.test(topic) && !/^[/$]|\/$/.test(topic)) return;
  throw bad(
    'baseTopic',
    `“${topic}” is not a valid start of MQTT topics.`,
    'Give words separated by slashes, without # and +, such as workshop/strandward.',
  );
}

function address(field: string, text: string, protocols: readonly string[], example: string): void {
  const url = URL.canParse(text) ? new URL(text) : null;
  if (url === null || !protocols.includes(url.protocol) || url.hostname === '') {
    // The text may contain a token, so it is not repeated.
    throw bad(field, 'The address of the channel is not valid.', `Give an address such as ${example}.`);
  }
  if (url.port === '0') throw bad(field, 'Nothing can listen on port 0.', `Give an address such as ${example}.`);
  if (url.hash !== '')
    throw bad(
      field,
      'What comes after the “#” is never sent.',
      'Leave it out, or write %23 for a “#” that belongs to the address.',
    );
}

const noUser = (remedy: string) => bad('user', 'There is a password but no user name.', remedy);

function onThisMachine(host: string): boolean {
  return host === 'localhost' || host === '::1' || /^127(\.\d{1,3}){3}$/.test(host);
}

/** Number of bytes that a base64url text encodes; 0 = not base64url. */
function bytesOf(text: string): number {
  const bare = text.replace(/=+$/, '');
  return /^[\w-]*$/.test(bare) ? Math.floor((bare.length * 3) / 4) : 0;
}

function bad(field: string, what: string, remedy: string): Problem {
  return new Problem('bad-setting', what, remedy, { pointer: pointerTo(field) });
}
