import { describe, expect, it } from 'vitest';
import { Tickets } from '../../server/api/tickets.ts';

describe('a ticket', () => {
  it('opens its own path once, and nothing after it expires', () => {
    let nowMs = 1000;
    const tickets = new Tickets(() => nowMs);
    const { ticket, validMs } = tickets.issue('/live');
    expect(tickets.redeem(ticket, '/live')).toBe(true);
    expect(tickets.redeem(ticket, '/live')).toBe(false);
    const late = tickets.issue('/live').ticket;
    nowMs += validMs;
    expect(tickets.redeem(late, '/live')).toBe(false);
    const soon = tickets.issue('/live').ticket;
    nowMs += validMs - 1;
    expect(tickets.redeem(soon, '/live')).toBe(true);
    expect(tickets.redeem('', '/live')).toBe(false);
  });

  it('cannot be guessed from others, and does not fill memory if unused', () => {
    const tickets = new Tickets(() => 0);
    const all = Array.from({ length: 3000 }, () => tickets.issue('/live').ticket);
    expect(new Set(all).size).toBe(all.length);
    // 24 bytes: 192 bits.
    expect(all.every((ticket) => /^[\w-]{32}$/.test(ticket))).toBe(true);
    expect(all.filter((ticket) => tickets.redeem(ticket, '/live')).length).toBe(1000);
    expect(tickets.redeem(all.at(-1)!, '/live')).toBe(false);
  });
});
