import type { SendMailOptions } from 'nodemailer';
import type { EmailSettings } from '../escalation/channel.ts';
import { linkOf, type Message, type Picture } from '../escalation/message.ts';
import { type ChannelAdapter, DeliveryFailure, RETRIED } from './delivery.ts';
import { asNetworkFailure, codeOf } from './network-errors.ts';
import { trusted } from './trusted.ts';

/** Longer than any attempt for what a slow server may take, because the attempt itself is limited. */
const SOCKET_LIMITS_MS = {
  connectionTimeout: 8000,
  greetingTimeout: 120_000,
  socketTimeout: 120_000,
  dnsTimeout: 8000,
};

/** Mail takes seconds to arrive anyway. */
const PICTURE_WITHIN_MS = 2000;

/** Mail over SMTP. One connection per message is enough for a few alarms a night. */
export function email(settings: EmailSettings): ChannelAdapter {
  const { host, port, security, user, password, certificate } = settings;
  return {
    async send(message, context) {
      // Loaded when it is needed, to keep the start short: few services send mail right away.
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
      context.signal.addEventListener('abort', end, { once: true });
      try {
        await transport.sendMail(
          mailOf(message, settings, linkOf(message, context.pageAddress), await context.picture(PICTURE_WITHIN_MS)),
        );
      } catch (thrown) {
        throw asMailFailure(thrown, settings, context.signal);
      } finally {
        context.signal.removeEventListener('abort', end);
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
  const { title, why, text, firstCheck, caution, clock, lineName, priority } = message;
  const parts = [why, text, firstCheck && `Check first: ${firstCheck}`, caution, link && `Answer it: ${link}`];
  const foot = `${lineName}, ${clock}. Strandward only watches; it is no safety device.`;
  const paragraphs = parts.filter((part): part is string => Boolean(part));
  const html = paragraphs.map((part) =>
    part === `Answer it: ${link}` ? `<p><a href="${escaped(link ?? '')}">Answer it</a></p>` : `<p>${escaped(part)}</p>`,
  );
  const domain = settings.from.split('@')[1] ?? 'strandward';
  const thread = `<${message.conversation}.thread@${domain}>`;
  const image = picture && `<p><img src="cid:trace" alt="${escaped(picture.text)}" width="600"></p>`;
  return {
    from: settings.from,
    to: settings.to,
    subject: `${title} — ${lineName}`,
    text: `${[...paragraphs, picture?.text, foot].filter(Boolean).join('\n\n')}\n`,
    html: `${html.join('\n')}\n${image ?? ''}\n<p style="color:#666">${escaped(foot)}</p>`,
    ...(priority === 'high' ? { priority: 'high' as const } : {}),
    // The same for each copy of a message, so that a mailbox can recognise it. Auto-Submitted: RFC 3834, no holiday replies.
    messageId: `<${message.key}@${domain}>`,
    // All answer a message that was never sent, so that they are one thread (RFC 5322, section 3.6.4).
    inReplyTo: thread,
    references: thread,
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

function asMailFailure(thrown: unknown, { host, user, to }: EmailSettings, signal: AbortSignal): DeliveryFailure {
  const { code = '', responseCode = 0, response = '' } = thrown as SmtpError;
  const reply = response === '' ? '' : ` It replied: ${response.replace(/\s+/g, ' ').slice(0, 200)}`;
  if (signal.aborted) return asNetworkFailure(thrown, host, signal);
  if (code === 'EAUTH') {
    return new DeliveryFailure(
      'retry',
      `${host} does not accept the user name “${user}” with this password.${reply}`,
      'Check both. Many providers need a separate password for each program (an “app password”).',
      { cause: thrown },
    );
  }
  if (code === 'ETLS' || (code === 'ESOCKET' && /STARTTLS/i.test(String(thrown)))) {
    return new DeliveryFailure(
      'retry',
      `${host} does not offer the chosen kind of TLS.${reply}`,
      'Choose TLS with port 465, or STARTTLS with port 587.',
      { cause: thrown },
    );
  }
  if (code === 'EENVELOPE' || responseCode >= 500) {
    return new DeliveryFailure(
      responseCode >= 500 ? 'refused' : 'retry',
      `${host} does not accept mail for ${to}.${reply}`,
      'Check the addresses of sender and receiver.',
      { cause: thrown },
    );
  }
  if (responseCode >= 400) {
    return new DeliveryFailure('retry', `${host} cannot accept the mail at the moment.${reply}`, RETRIED, {
      cause: thrown,
    });
  }
  if (/wrong version number/i.test(String(thrown)) || codeOf(thrown) === 'ERR_SSL_WRONG_VERSION_NUMBER') {
    return new DeliveryFailure(
      'retry',
      `${host} does not start with TLS on this port.`,
      'Choose STARTTLS (usually port 587), or TLS with port 465.',
      { cause: thrown },
    );
  }
  return asNetworkFailure(thrown, host, signal);
}
