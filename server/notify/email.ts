import type { SendMailOptions } from 'nodemailer';
import type { EmailSettings } from '../escalation/channel.ts';
import { linkOf, type Message, type Picture } from '../escalation/message.ts';
import { type ChannelAdapter, DeliveryFailure } from './delivery.ts';
import { asNetworkFailure, codeOf } from './network-errors.ts';
import { trusted } from './trusted.ts';

/** The library's own limits are minutes; ours is one attempt. */
const SOCKET_LIMITS_MS = { connectionTimeout: 8000, greetingTimeout: 8000, socketTimeout: 12_000, dnsTimeout: 8000 };

/** A mail takes seconds by itself. */
const PICTURE_WITHIN_MS = 2000;

/** Mail over SMTP: one connection a message, for an alarm a night needs no more. */
export function email(settings: EmailSettings): ChannelAdapter {
  const { host, port, security, user, password, certificate } = settings;
  return {
    async send(message, given) {
      // Loaded when it is needed: most starts of the service send no mail at once.
      const { createTransport } = await import('nodemailer');
      const ca = trusted(certificate);
      const transport = createTransport({
        host,
        port,
        secure: security === 'tls',
        requireTLS: security === 'starttls',
        ignoreTLS: security === 'none',
        ...(user === '' ? {} : { auth: { user, pass: password } }),
        tls: { minVersion: 'TLSv1.2', ...(ca === undefined ? {} : { ca }) },
        ...SOCKET_LIMITS_MS,
      });
      const end = () => transport.close();
      given.signal.addEventListener('abort', end, { once: true });
      try {
        await transport.sendMail(
          mailOf(message, settings, linkOf(message, given.pageAddress), await given.picture(PICTURE_WITHIN_MS)),
        );
      } catch (thrown) {
        throw inText(thrown, settings, given.signal);
      } finally {
        given.signal.removeEventListener('abort', end);
        transport.close();
      }
    },
  };
}

function mailOf(
  message: Message,
  settings: EmailSettings,
  link: string | null,
  picture: Picture | null,
): SendMailOptions {
  const { title, text, firstCheck, caution, clock, lineName, priority } = message;
  const parts = [text, firstCheck && `Check first: ${firstCheck}`, caution, link && `Answer it: ${link}`];
  const foot = `${lineName}, ${clock}. Strandward only watches; it is no safety device.`;
  const paragraphs = parts.filter((part): part is string => Boolean(part));
  const html = paragraphs.map((part) =>
    part === `Answer it: ${link}` ? `<p><a href="${escaped(link ?? '')}">Answer it</a></p>` : `<p>${escaped(part)}</p>`,
  );
  const image = picture && `<p><img src="cid:trace" alt="${escaped(picture.text)}" width="600"></p>`;
  return {
    from: settings.from,
    to: settings.to,
    subject: `${title} — ${lineName}`,
    text: `${[...paragraphs, picture?.text, foot].filter(Boolean).join('\n\n')}\n`,
    html: `${html.join('\n')}\n${image ?? ''}\n<p style="color:#666">${escaped(foot)}</p>`,
    ...(priority === 'high' ? { priority: 'high' as const } : {}),
    // The same for each copy of a message, so that a mailbox can tell one; and no holiday note shall answer (RFC 3834).
    messageId: `<${message.key}@${settings.from.split('@')[1] ?? 'strandward'}>`,
    headers: { 'Auto-Submitted': 'auto-generated' },
    ...(picture === null
      ? {}
      : { attachments: [{ filename: 'trace.png', content: picture.png, contentType: 'image/png', cid: 'trace' }] }),
  };
}

const escaped = (text: string) =>
  text.replace(/[&<>"]/g, (sign) => ({ '&': '&amp;', '<': '&lt;', '>': '&gt;', '"': '&quot;' })[sign] ?? sign);

interface SmtpError {
  readonly code?: string;
  readonly responseCode?: number;
  readonly response?: string;
}

function inText(thrown: unknown, { host, user, to }: EmailSettings, signal: AbortSignal): DeliveryFailure {
  const { code = '', responseCode = 0, response = '' } = thrown as SmtpError;
  const said = response === '' ? '' : ` It says: ${response.replace(/\s+/g, ' ').slice(0, 200)}`;
  if (signal.aborted) return asNetworkFailure(thrown, host, signal);
  if (code === 'EAUTH') {
    return new DeliveryFailure(
      'again',
      `${host} does not accept the user name “${user}” with this password.${said}`,
      'Check both. Many providers want a password made for this program alone (an “app password”).',
      { cause: thrown },
    );
  }
  if (code === 'ETLS' || (code === 'ESOCKET' && /STARTTLS/i.test(String(thrown)))) {
    return new DeliveryFailure(
      'again',
      `${host} does not offer the TLS that was chosen.${said}`,
      'Choose TLS with port 465, or STARTTLS with port 587.',
      { cause: thrown },
    );
  }
  if (code === 'EENVELOPE' || responseCode >= 500) {
    return new DeliveryFailure(
      responseCode >= 500 ? 'refused' : 'again',
      `${host} does not take mail for ${to}.${said}`,
      'Check the addresses of sender and receiver.',
      { cause: thrown },
    );
  }
  if (responseCode >= 400) {
    return new DeliveryFailure('again', `${host} does not take the mail now.${said}`, 'It is tried again.', {
      cause: thrown,
    });
  }
  if (/wrong version number/i.test(String(thrown)) || codeOf(thrown) === 'ERR_SSL_WRONG_VERSION_NUMBER') {
    return new DeliveryFailure(
      'again',
      `${host} does not begin with TLS on this port.`,
      'Choose STARTTLS (usually port 587), or TLS with port 465.',
      { cause: thrown },
    );
  }
  return asNetworkFailure(thrown, host, signal);
}
