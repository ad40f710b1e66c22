import type { Spool } from '../entities/spool.ts';
import { outlookOf, stretchesToCutOut } from '../monitor/line/outlook.ts';
import type { LineMonitor, LineSnapshot } from '../monitor/line-monitor.ts';
import { gaugeOptics, lineParts, wantedOn } from '../monitor/settings-to-parts.ts';
import { valueAt } from '../reading/reading.ts';
import { resetText } from '../settings/check-line-settings.ts';
import { missingForScrew, zoneNameOf } from '../stage/stage-readiness.ts';
import { adviceOfBlindness, adviceOfGauge, adviceOfSections, adviceOfTrend } from '../strand/advice.ts';
import { type Blindness, blindness } from '../strand/blindness.ts';
import { samplePitchMm } from '../strand/gauge-watch.ts';
import { gramsOfLength } from '../strand/mass.ts';
import { asCounted, type StrandOnWinder, spoolPositionMm } from '../strand/position.ts';
import { causesOf } from '../strand/spectrum/named-causes.ts';
import { spoolTotals } from '../strand/spool-totals.ts';
import type { LiveState } from './contract/live-state.ts';
import type { LiveSpool } from './contract/runs-and-spools.ts';
import { alarmView, limitsView, linkView, type SpoolFrame, sectionView } from './views.ts';

const NOT_WATCHED = ['strand', 'places', 'heat', 'heatInPart'] as const;
const SECTIONS_SHOWN = 10;
const SPEED_NOT_NOTICEABLE_MM_PER_S = 0.05;

/** Advice about the strand now at the gauge, only while strand is made. */
function liveAdvice(s: LineSnapshot, blind: Blindness | null): LiveState['advice'] {
  const { last, settings, spool } = s;
  if (last === null || (s.stage.stage !== 'winding' && s.stage.stage !== 'purging')) return [];
  const rpm = valueAt(last.reading, last.reading.layout.screwSpeed);
  const causes = causesOf(lineParts(settings, rpm > 0 ? rpm : null));
  const advice = [
    adviceOfBlindness(blind),
    s.gaugeSaturated ? adviceOfGauge('gaugeSaturated', null) : null,
    s.deadAxis === null ? null : adviceOfGauge('axisDead', null),
    ...s.trends.map((trend) => adviceOfTrend(trend, causes)),
    ...adviceOfSections(s.sections.filter(({ open }) => open)),
  ];
  const strand = spool === null ? null : strandOn(s, spool);
  const onSpool = (gaugeMm: number | null) =>
    gaugeMm === null || strand === null ? null : spoolPositionMm(gaugeMm, strand);
  return advice.flatMap((one) =>
    one === null ? [] : [{ ...one, fromMm: onSpool(one.fromMm), toMm: onSpool(one.toMm) }],
  );
}

/** A spool being wound cannot have been measured by tape, so its lengths are as counted. */
function strandOn({ cutOuts }: LineSnapshot, spool: Spool): StrandOnWinder {
  return asCounted(
    spool,
    cutOuts.filter(({ toMm }) => toMm > spool.startGaugeMm),
  );
}

function liveSpool(s: LineSnapshot, spool: Spool, woundMm: number): LiveSpool {
  const { sections, settings, meanDiameterMm } = s;
  const strand = strandOn(s, spool);
  const placed = sections.map((section) => ({
    ...section,
    fromMm: spoolPositionMm(section.fromMm, strand),
    toMm: spoolPositionMm(section.toMm, strand),
  }));
  const { discardMm } = spoolTotals(placed, 0, woundMm);
  const woundG = gramsOfLength(woundMm, meanDiameterMm ?? settings.nominalMm, settings.densityGPerCm3);
  const outlook = outlookOf(s);
  return {
    ...spool,
    cutOuts: [...strand.cutOuts],
    wanted: wantedOn(spool, settings),
    woundMm,
    woundG,
    discardMm,
    capacityMm: outlook.capacityMm,
    wantedMm: outlook.wantedMm,
    toCutOut: stretchesToCutOut(outlook),
  };
}

function settingsProblemOf({ settingsNotice, settingsReset }: LineSnapshot): string | null {
  const texts = [settingsNotice, resetText(settingsReset)].filter((text) => text !== null);
  return texts.length === 0 ? null : texts.join(' ');
}

/** The live state as the API returns it. */
export function liveView(monitor: LineMonitor, boot: string, notificationProblems: readonly string[]): LiveState {
  const s = monitor.snapshot();
  const { settings, last, run, spool } = s;
  const now =
    last === null
      ? null
      : {
          gaugeMm: last.gaugeMm,
          speedMmPerS: last.speedMmPerS,
          gaugeToWinderMm: s.gaugeToWinderMm,
        };
  // The strand between gauge and winder will be on this spool, so its positions count from the same start.
  const frame: SpoolFrame | null =
    spool === null || !s.placesAreKnown ? null : { ...strandOn(s, spool), spoolId: spool.id, endGaugeMm: null };
  const sections = spool === null ? [] : s.sections.filter(({ toMm }) => toMm > spool.startGaugeMm);
  const shown = sections.filter(
    (section, index) =>
      index >= sections.length - SECTIONS_SHOWN || (now !== null && section.toMm + s.gaugeToWinderMm > now.gaugeMm),
  );
  const moving = last !== null && last.speedMmPerS > SPEED_NOT_NOTICEABLE_MM_PER_S;
  // In a replay, the lines per second depend on its pace and not on the rate of the gauge.
  const rateKnown = s.link.timing === 'live' && s.link.readingsPerS > 0;
  const blind =
    moving && rateKnown
      ? blindness(
          samplePitchMm(last.speedMmPerS, s.link.readingsPerS),
          last.speedMmPerS,
          gaugeOptics(settings),
          settings,
        )
      : null;
  return {
    serverTimeMs: s.nowMs,
    boot,
    spoolBoundsRevision: s.spoolBoundsRevision,
    sentence: s.headline.sentence,
    title: s.headline.brief,
    sentenceAlarmId: s.headline.alarmId,
    severity: s.headline.severity,
    lineName: settings.lineName,
    link: linkView(s.link),
    stage: {
      stage: s.stage.stage,
      setByUser: s.stage.setByUser,
      sinceMs: s.stage.sinceMs,
      missing: [...s.stage.missing],
      firstReadyMs: s.stage.firstReadyMs,
      soakSkipped: s.stage.soakSkipped,
    },
    run: run === null ? null : { id: run.id, startedMs: run.startedMs, timeZone: run.timeZone, lot: run.lot },
    spool: spool === null ? null : liveSpool(s, spool, monitor.woundMm(spool)),
    spoolToContinue:
      s.spoolToContinue === null
        ? null
        : {
            id: s.spoolToContinue.id,
            ordinal: s.spoolToContinue.ordinal,
            woundMm: monitor.woundMm(s.spoolToContinue),
            sinceMm: Math.max(0, (last?.gaugeMm ?? 0) - (s.spoolToContinue.endGaugeMm ?? 0)),
          },
    proposedSpoolChange:
      s.proposedSpoolChange === null
        ? null
        : {
            spoolId: s.proposedSpoolChange.spool.id,
            ordinal: s.proposedSpoolChange.spool.ordinal,
            atGaugeMm: s.proposedSpoolChange.atGaugeMm,
            atSpoolMm: spoolPositionMm(s.proposedSpoolChange.atGaugeMm, strandOn(s, s.proposedSpoolChange.spool)),
          },
    now: {
      timeMs: last?.timeMs ?? null,
      gaugeMm: last?.gaugeMm ?? 0,
      spoolMm:
        spool === null || last === null || !s.placesAreKnown ? null : spoolPositionMm(last.gaugeMm, strandOn(s, spool)),
      diameterMm: last?.diameterMm ?? null,
      outOfRoundMm: last?.outOfRoundMm ?? null,
      speedMmPerS: last?.speedMmPerS ?? null,
      samplePitchMm: blind?.pitchMm ?? null,
      surelySeenMm: blind?.surelySeenMm ?? null,
      otherSignals:
        last === null
          ? []
          : last.reading.layout.signals.flatMap((signal, column) =>
              signal.role === null
                ? [{ name: signal.name, unit: signal.unit, value: valueAt(last.reading, column) }]
                : [],
            ),
    },
    lengthJumps: s.lengthJumps,
    zones: s.zones.map(({ expected, doing, ...zone }) => ({
      ...zone,
      state: doing,
      name: zoneNameOf(settings.zoneNames, zone.zone),
      faults: [...zone.faults],
      expectedLowC: expected?.lowC ?? null,
      expectedHighC: expected?.highC ?? null,
    })),
    heat: {
      missingBeforeScrew: missingForScrew(
        s.zones,
        settings.zoneNames,
        { soakMin: settings.soakMin, hotWhenFirstSeen: s.stage.hotWhenFirstSeen },
        last?.timeMs ?? s.nowMs,
      ),
      learntZones: [...s.learntZones],
      visibleAfter: [...s.faultVisibilities].map(([zone, visibility]) => ({ zone, ...visibility })),
      zonesWithoutPower: s.zones.filter((zone) => zone.power === null).map((zone) => zone.zone),
    },
    sections: shown.toReversed().map((section) => sectionView(section, frame, s.placesAreKnown ? now : null)),
    notWatched: [...NOT_WATCHED.filter((what) => s.unwatched[what] !== null), ...s.unwatched.minor],
    notificationProblems: [...notificationProblems],
    settingsProblem: settingsProblemOf(s),
    alarms: s.alarms.map(alarmView),
    suppressed: s.suppressed.map(alarmView),
    advice: liveAdvice(s, blind),
    limits: {
      ...limitsView(settings),
      gaugeToWinderMm: s.gaugeToWinderMm,
      absoluteLimitC: settings.absoluteLimitC,
    },
  };
}
