import type { LiveState } from '../../server/api/contract/live-state.ts';
import type { SectionView } from '../../server/api/contract/runs-and-spools.ts';
import type { Colours } from '../chart/colours.ts';

/** The layout of the picture of the strand, CSS px. The band and the trace share it, and so share one metre axis. */
export interface PictureFrame {
  readonly width: number;
  /** Gutters left and right of the metre axis. */
  readonly left: number;
  readonly right: number;
  readonly plotWidth: number;
  readonly bandHeight: number;
  readonly traceHeight: number;
  readonly laneHeight: number;
  readonly lanes: number;
  readonly calloutWidth: number;
  readonly strandPx: number;
  readonly fontPx: number;
  readonly narrow: boolean;
}

export function pictureFrame(width: number, height: number, wall: boolean): PictureFrame {
  const narrow = width < 700;
  const left = narrow ? (wall ? 64 : 56) : wall ? 216 : 148;
  const right = narrow ? 52 : wall ? 150 : 108;
  const laneHeight = narrow ? 40 : wall ? 58 : 36;
  const lanes = wall ? 1 : 2;
  const strandPx = narrow ? 22 : wall ? Math.round(Math.min(72, Math.max(36, height * 0.13))) : 38;
  const bandHeight = laneHeight * lanes + strandPx * 2.4 + (narrow ? 30 : 36);
  const traceHeight = wall ? Math.max(140, height - bandHeight - 4) : narrow ? 190 : 250;
  return {
    width,
    left,
    right,
    plotWidth: Math.max(50, width - left - right),
    bandHeight: Math.round(bandHeight),
    traceHeight: Math.round(traceHeight),
    laneHeight,
    lanes,
    calloutWidth: narrow ? (wall ? 240 : 222) : wall ? 600 : 410,
    strandPx,
    fontPx: narrow ? (wall ? 14 : 11.5) : wall ? 20 : 13,
    narrow,
  };
}

/** Everything that one picture is drawn from. */
export interface PictureScene {
  readonly frame: PictureFrame;
  readonly colours: Colours;
  readonly limits: LiveState['limits'];
  readonly headMm: number;
  readonly spanMm: number;
  readonly speedMmPerS: number;
  readonly spoolStartMm: number | null;
  readonly woundMm: number;
  readonly sections: readonly SectionView[];
  readonly stale: boolean;
}
