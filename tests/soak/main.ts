import { rmSync } from 'node:fs';
import { parseArgs } from 'node:util';
import { killRounds } from './kill-rounds.ts';
import { lookAt } from './morning.ts';
import { spendNight } from './night.ts';

/**
 * npm run soak -- --minutes 480 --pace 60 --seed 3: the built service watches a simulated line over TCP, while it is killed,
 * its cable is pulled, lines are garbled, pages freeze, the webhook is down or hangs and the broker hangs, all by chance from the seed. With a pace the
 * clocks of line and service run faster than the machine's. With --kills 200 it is only killed, also in the middle of longer
 * work. Exit code 1 = a promise was broken; the record is then kept. Linux only.
 */
const { values } = parseArgs({
  options: {
    minutes: { type: 'string', default: '10' },
    pace: { type: 'string', default: '1' },
    seed: { type: 'string', default: '1' },
    kills: { type: 'string', default: '0' },
  },
});
const minutes = Number(values.minutes);
const pace = Number(values.pace);
const seed = Number(values.seed);
if (!(minutes >= 1) || !(pace >= 1) || !Number.isSafeInteger(seed)) {
  console.error('Give --minutes and --pace of at least 1, and a whole --seed.');
  process.exit(2);
}

const kills = Number(values.kills);
if (kills > 0) {
  const { counts, lostS, facts, broken } = await killRounds(kills, seed);
  process.stdout.write(
    `${kills} kills, seed ${seed}: at most ${lostS.toFixed(2)} s of readings lost; ${facts} facts\n`,
  );
  for (const [what, times] of [...counts].sort()) process.stdout.write(`${times} × ${what}\n`);
  for (const what of broken) process.stdout.write(`BROKEN ${what}\n`);
  process.exit(broken.length > 0 ? 1 : 0);
}

const LOST_PER_KILL_MAX_S = 1;
const RSS_MAX_MB = 150;
const RSS_GROWTH_MAX_MB = 10;
/** A cause that is not found shows in thousands of defects. */
const EVENTS_SHOWN = 10;

const night = await spendNight({ minutes, pace, seed });
const morning = await lookAt(night, pace);
const named = (counts: ReadonlyMap<string, number>) =>
  [...counts].map(([name, count]) => `${name} ${count}`).join(', ');
const { webhook, mqtt } = morning.accepted;
const faults = new Map<string, number>();
for (const { name } of night.provoked) faults.set(name, (faults.get(name) ?? 0) + 1);
const checks: readonly (readonly [string, boolean])[] = [
  [
    `readings lost by a kill: at most ${morning.lostPerKillS.toFixed(2)} s`,
    morning.lostPerKillS <= LOST_PER_KILL_MAX_S,
  ],
  [
    `truth found: ${morning.events - morning.notFound.length} of ${morning.events}`,
    morning.events > 0 && morning.notFound.length === 0,
  ],
  [
    `facts kept: ${night.facts.length - morning.factsLost.length} of ${night.facts.length}`,
    morning.factsLost.length === 0,
  ],
  [
    `memory: at most ${morning.rssMaxMb.toFixed(0)} MB (after ${morning.rssMaxAtS.toFixed(0)} s: ${morning.rssMaxIn}), half of the time at most ${morning.rssMedianMb.toFixed(0)}; without files that others can share ${morning.ownMaxMb.toFixed(0)}`,
    morning.rssMaxMb <= RSS_MAX_MB,
  ],
  [`memory: grows by ${morning.rssGrowthMb.toFixed(1)} MB`, morning.rssGrowthMb <= RSS_GROWTH_MAX_MB],
  [`ends that no one asked for: ${night.unasked}`, night.unasked === 0],
  [`errors in the log: ${morning.errors.length}`, morning.errors.length === 0],
  [
    `messages accepted: ${webhook.count} by the webhook and ${mqtt.count} by the broker, still waiting: ${night.waiting}, reports given up: ${morning.reportsLost}`,
    night.waiting === 0 && morning.reportsLost === 0 && webhook.count > 0 && mqtt.count > 0,
  ],
  [
    `messages overtaken by a later one of their alarm: ${webhook.overtaken} and ${mqtt.overtaken}`,
    webhook.overtaken + mqtt.overtaken === 0,
  ],
];
const { readings, arrived, missing, missingBy } = morning;
process.stdout.write(`${minutes} min at ${pace}×, seed ${seed}: ${named(faults)}\n`);
process.stdout.write(
  `${readings} readings stored; of ${arrived} lines that arrived, ${missing} are not in the record (${named(missingBy)})\n`,
);
for (const [what, holds] of checks) process.stdout.write(`${holds ? 'ok    ' : 'BROKEN'} ${what}\n`);
for (const gap of morning.gaps) process.stdout.write(`missing: ${JSON.stringify(gap)}\n`);
for (const event of morning.notFound.slice(0, EVENTS_SHOWN))
  process.stdout.write(`not found: ${JSON.stringify(event)}\n`);
for (const { seq, attempts, why, createdMs, nextMs, message } of morning.waiting.slice(0, EVENTS_SHOWN))
  process.stdout.write(`waiting: ${JSON.stringify({ seq, attempts, why, createdMs, nextMs, key: message.key })}\n`);
for (const line of morning.errors.slice(0, 10)) process.stdout.write(`${line.slice(0, 500)}\n`);
const broken = checks.some(([, holds]) => !holds);
if (broken) process.stdout.write(`The record is kept in ${night.dataFolder}\n`);
else rmSync(night.dataFolder, { recursive: true, force: true });
process.exit(broken ? 1 : 0);
