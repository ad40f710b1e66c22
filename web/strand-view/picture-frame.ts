import type { LiveState } from '../../server/api/contract/live-state.ts';
import type { SectionView } from '../../server/api/contract/runs-and-spools.ts';
import type { StrandOnWinder } from '../../server/strand/position.ts';
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
  /** There is room only for numbers and single words beside the axes. */
  readonly brief: boolean;
}

/** @param wallFontPx size of text that is readable on a wall; null = not on the wall */
export function pictureFrame(width: number, height: number, wallFontPx: number | null): PictureFrame {
  if (width < 700) return narrowFrame(width, height, wallFontPx !== null);
  return wallFontPx === null ? wideFrame(width) : wallFrame(width, height, wallFontPx);
}

function wideFrame(width: number): PictureFrame {
  const sizes = { left: 148, right: 108, laneHeight: 36, lanes: 2, strandPx: 38, fontPx: 13, foot: 36 };
  return frameOf({ ...sizes, width, calloutWidth: 440, narrow: false, brief: false }, () => 250);
}

/** A phone: “Possible thin spot 1.480 mm” fits, also on one of 320 px. On its wall page, the trace takes the height that is left. */
function narrowFrame(width: number, height: number, wall: boolean): PictureFrame {
  const sizes = { right: 52, laneHeight: 40, strandPx: 22, foot: 30, narrow: true, brief: true, width };
  return wall
    ? frameOf({ ...sizes, left: 64, lanes: 1, fontPx: 14, calloutWidth: 260 }, leftOf(height))
    : frameOf({ ...sizes, left: 56, lanes: 1, fontPx: 11.5, calloutWidth: 262 }, () => 190);
}

/** On the wall gutters, callouts and the foot follow the size of the text. */
function wallFrame(width: number, height: number, fontPx: number): PictureFrame {
  const strandPx = Math.round(Math.min(72, Math.max(24, height * 0.12)));
  const gutters = { left: Math.round(fontPx * 5), right: Math.round(fontPx * 4.2) };
  const lane = { laneHeight: Math.round(fontPx * 1.4), lanes: 1, calloutWidth: Math.round(fontPx * 25) };
  const foot = fontPx * 1.3;
  return frameOf({ ...gutters, ...lane, width, strandPx, fontPx, foot, narrow: false, brief: true }, leftOf(height));
}

const leftOf = (height: number) => (bandHeight: number) => Math.max(140, height - bandHeight - 4);

type Sizes = Omit<PictureFrame, 'plotWidth' | 'bandHeight' | 'traceHeight'> & {
  /** Below the strand, for the marks of the metres. */
  readonly foot: number;
};

function frameOf({ foot, ...sizes }: Sizes, traceHeight: (bandHeight: number) => number): PictureFrame {
  const bandHeight = Math.round(sizes.laneHeight * sizes.lanes + sizes.strandPx * 2.4 + foot);
  return {
    ...sizes,
    plotWidth: Math.max(50, sizes.width - sizes.left - sizes.right),
    bandHeight,
    traceHeight: Math.round(traceHeight(bandHeight)),
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
  /** The spool being wound; null = none. */
  readonly strand: StrandOnWinder | null;
  readonly woundMm: number;
  readonly sections: readonly SectionView[];
  readonly stale: boolean;
}
