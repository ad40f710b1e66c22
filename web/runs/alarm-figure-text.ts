import type { AlarmLoadView } from '../../server/api/contract/alarm-journal.ts';
import { counted, percent } from '../format/numbers.ts';
import { clock, span } from '../format/times.ts';

/** The figures in plain sentences. @param watched whether anyone was notified of the alarms */
export function figureText(figures: AlarmLoadView, timeZone: string, watched: boolean): string {
  const { alarms: calls, perTenMin, floods, chattering, fleeting, stale, unanswered, medianAnswerMs } = figures;
  if (calls === 0) return 'No alarm was raised.';
  const rate =
    perTenMin === null ? '' : `, ${perTenMin < 0.1 ? 'less than 0.1' : perTenMin.toFixed(1)} in ten minutes on average`;
  const often = `${counted(calls, 'alarm was', 'alarms were')} raised${rate}.`;
  const flood = floods[0];
  const flooded =
    flood === undefined
      ? ''
      : floods.length === 1
        ? ` From ${clock(flood.fromMs, timeZone)} on there were too many for one person: ${flood.alarms} alarms in ${span(flood.toMs - flood.fromMs)}.`
        : ` ${floods.length} times there were too many for one person, the first time from ${clock(flood.fromMs, timeZone)} on.`;
  const listed = (list: readonly { title: string }[]) => list.map(({ title }) => `“${title}”`).join(', ');
  const loose = [
    ...(chattering.length > 0 ? [`${listed(chattering)} came and went repeatedly: try a longer off-delay.`] : []),
    ...(fleeting.length > 0
      ? [`${listed(fleeting)} was gone within seconds, before anyone could act: an on-delay may avoid the alarm.`]
      : []),
    ...(stale.length > 0 ? [`${listed(stale)} stayed active for more than a day.`] : []),
  ];
  const answers = !watched
    ? ' No one was notified, because the line was not watched live.'
    : medianAnswerMs === null
      ? ' No one acknowledged.'
      : ` Acknowledging took ${span(medianAnswerMs)} (median)${unanswered === 0 ? '' : `; no one acknowledged ${counted(unanswered, 'alarm')}`}.`;
  return `${often}${flooded}${loose.map((one) => ` ${one}`).join('')}${answers}`;
}

/** Measure, value of this run, recommended value (EEMUA 191 and ISA-18.2 as quoted by trade articles). */
export function figureRows(figures: AlarmLoadView): readonly (readonly [string, string, string])[] {
  const { alarms: calls, perTenMin, peakPerTenMin, floods, floodShare, byPriority, frequent } = figures;
  const share = (n: number) => (calls === 0 ? '–' : percent(n / calls));
  const named = (list: readonly { title: string; count: number }[]) =>
    list.length === 0 ? 'none' : list.map(({ title, count }) => `${title} (${count})`).join(', ');
  const top = frequent[0];
  return [
    ['Alarms in ten minutes, mean', perTenMin === null ? 'too short a run' : perTenMin.toFixed(2), 'at most 1'],
    ['Alarms in ten minutes, most', String(peakPerTenMin), 'at most 10'],
    ['Floods', floods.length === 0 ? 'none' : `${floods.length}, ${percent(floodShare)} of the run`, 'none'],
    [
      'High, medium, low priority',
      `${share(byPriority.high)}, ${share(byPriority.medium)}, ${share(byPriority.low)}`,
      'about 5, 15, 80 %',
    ],
    [
      'Most frequent',
      top === undefined ? 'none' : `${top.title}, ${share(top.count)} of the alarms`,
      'none far above the others',
    ],
    ['Chattering: three times in a minute', named(figures.chattering), 'none'],
    ['Fleeting: gone within 5 s', named(figures.fleeting), 'none'],
    [
      'Stale: longer than a day',
      figures.stale.length === 0
        ? 'none'
        : figures.stale.map(({ title, forMs }) => `${title} (${span(forMs)})`).join(', '),
      'none',
    ],
  ];
}
