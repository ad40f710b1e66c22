import { awaitsAcknowledgement } from '../alarm/life-cycle.ts';
import type { LineFeed } from '../front/line-feed.ts';
import type { SeenLine } from '../front/seen-line.ts';
import type { OtherLineView, SeenLineView } from './contract/lines.ts';
import type { LiveState } from './contract/live-state.ts';
import { cut, TEXT_MAX } from './line-reader.ts';

const ALARMS_SHOWN = 3;
const NAME_MAX = 60;
/** What a network and two clocks set by the same server may differ by. */
const CLOCK_APART_MS = 60_000;

/** All lines, the own one first. */
export function linesView(own: SeenLine, feeds: readonly LineFeed[], nowMs: number): SeenLineView[] {
  const views = [ownLine(own), ...feeds.map((feed) => otherLine(feed, nowMs))];
  const timesNamed = new Map<string, number>();
  for (const { name } of views) timesNamed.set(name, (timesNamed.get(name) ?? 0) + 1);
  return views.map((view) =>
    timesNamed.get(view.name) === 1 || view.name === ''
      ? view
      : { ...view, notes: [...view.notes, `Another line is also called “${view.name}”. Rename one in its Set-up.`] },
  );
}

export function otherLineView(feed: LineFeed, house: House): OtherLineView {
  const { id, address, actToken } = feed.line;
  const name = nameOf(feed);
  return {
    id,
    address,
    name,
    title: titleOf(feed, house),
    mayAcknowledge: actToken !== '',
    trouble: feed.phase === 'lost' ? feed.why : '',
  };
}

export interface House {
  /** Of this line. */
  readonly ownName: string;
  readonly feeds: readonly LineFeed[];
}

function nameOf({ seen }: LineFeed): string {
  return cut(seen.state?.lineName ?? '', NAME_MAX);
}

/** Two lines with the same name are distinguished by their addresses. */
export function titleOf(feed: LineFeed, { ownName, feeds }: House): string {
  const name = nameOf(feed);
  const { host } = new URL(feed.line.address);
  const isUnique = name !== ownName && feeds.every((one) => one === feed || nameOf(one) !== name);
  return name === '' ? host : isUnique ? name : `${name} (${host})`;
}

function ownLine(seen: SeenLine): SeenLineView {
  return {
    id: 0,
    address: '',
    connection: 'open',
    silentForS: 0,
    notes: [],
    mayAcknowledge: true,
    trace: seen.trace(),
    ...said(seen.state),
  };
}

function otherLine(feed: LineFeed, nowMs: number): SeenLineView {
  const { line, phase, seen } = feed;
  const silentForS = feed.silentForMs / 1000;
  const view: SeenLineView = {
    id: line.id,
    address: line.address,
    connection: phase,
    silentForS,
    notes: [],
    mayAcknowledge: line.actToken !== '',
    trace: seen.trace(),
    ...said(seen.state),
  };
  const name = view.name === '' ? new URL(line.address).host : view.name;
  if (phase === 'connecting') return { ...view, name, severity: 'notice', sentence: 'Connecting …' };
  // As on its own page, a lost connection takes the place of the sentence.
  if (phase === 'lost') {
    const sentence = `Not watched from here for ${spanText(silentForS)}. ${feed.why}`;
    return { ...view, name, severity: 'danger', sentence };
  }
  const apartMs = (seen.state?.serverTimeMs ?? nowMs) - (nowMs - feed.silentForMs);
  return { ...view, name, notes: clockNotes(apartMs) };
}

function clockNotes(apartMs: number): string[] {
  if (Math.abs(apartMs) < CLOCK_APART_MS) return [];
  const side = apartMs > 0 ? 'ahead of' : 'behind';
  return [
    `Its clock is ${spanText(Math.abs(apartMs) / 1000)} ${side} this machine’s, so its times differ. Set the clock that is wrong.`,
  ];
}

type Said = Pick<
  SeenLineView,
  'name' | 'severity' | 'sentence' | 'stage' | 'spool' | 'diameterMm' | 'alarms' | 'toAnswer' | 'limits'
>;

/** What a line says of itself. */
function said(state: LiveState | null): Said {
  if (state === null) {
    const nothing = { stage: null, spool: null, diameterMm: null, limits: null };
    return { name: '', severity: 'notice', sentence: '', alarms: [], toAnswer: 0, ...nothing };
  }
  const { spool, limits } = state;
  return {
    name: cut(state.lineName, NAME_MAX),
    severity: state.severity,
    sentence: cut(state.sentence, TEXT_MAX),
    stage: state.stage.stage,
    spool: spool && {
      ordinal: spool.ordinal,
      woundMm: spool.woundMm,
      capacityMm: spool.capacityMm,
      discardMm: spool.discardMm,
    },
    diameterMm: state.now.diameterMm,
    // The one that the sentence is about comes first.
    alarms: [
      ...state.alarms.filter(({ id }) => id === state.sentenceAlarmId),
      ...state.alarms.filter(({ id }) => id !== state.sentenceAlarmId),
    ]
      .slice(0, ALARMS_SHOWN)
      .map((alarm) => ({
        ...alarm,
        title: cut(alarm.title, NAME_MAX),
        sentence: cut(alarm.sentence, TEXT_MAX),
        firstCheck: cut(alarm.firstCheck, TEXT_MAX),
      })),
    toAnswer: state.alarms.filter((alarm) => awaitsAcknowledgement(alarm.state)).length,
    limits,
  };
}

function spanText(s: number): string {
  if (s < 120) return `${Math.floor(s)} s`;
  return s < 7200 ? `${Math.round(s / 60)} min` : `${Math.round(s / 3600)} h`;
}
