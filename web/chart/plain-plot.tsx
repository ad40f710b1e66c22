import type { ComponentChildren } from 'preact';
import { useWidth } from './use-width.ts';

/** Maps values to positions in the drawing. */
export interface PlotPlaces {
  readonly x: (value: number) => number;
  readonly y: (value: number) => number;
  readonly left: number;
  readonly right: number;
  readonly top: number;
  readonly bottom: number;
}

interface Props {
  readonly height: number;
  readonly x: readonly [number, number];
  readonly y: readonly [number, number];
  readonly logX?: boolean;
  /** Tick values and their labels. */
  readonly xTicks: readonly (readonly [number, string])[];
  readonly yTicks: readonly (readonly [number, string])[];
  readonly xText: string;
  readonly yText: string;
  /** The text alternative for screen readers. */
  readonly label: string;
  /** Width of the labels of the vertical axis, px. */
  readonly leftPx?: number;
  readonly children: (at: PlotPlaces) => ComponentChildren;
}

const LEFT = 54;

/** A small drawing with two plain axes, sharp at any width. */
export function PlainPlot(props: Props) {
  const [place, width] = useWidth<HTMLDivElement>();
  const [x0, x1] = props.logX ? props.x.map(Math.log) : props.x;
  const { leftPx: left = LEFT } = props;
  const [right, top, bottom] = [Math.max(left + 10, width - 8), 22, props.height - 26];
  const at: PlotPlaces = {
    x: (value) => left + (((props.logX ? Math.log(value) : value) - x0!) / (x1! - x0! || 1)) * (right - left),
    y: (value) => bottom - ((value - props.y[0]) / (props.y[1] - props.y[0] || 1)) * (bottom - top),
    left,
    right,
    top,
    bottom,
  };
  return (
    <div ref={place} class="plain-plot">
      {width > 0 && (
        <svg
          width={width}
          height={props.height}
          viewBox={`0 0 ${width} ${props.height}`}
          role="img"
          aria-label={props.label}
        >
          {props.yTicks.map(([value, text]) => (
            <g key={value}>
              <line class="plot-rule" x1={left} x2={right} y1={at.y(value)} y2={at.y(value)} />
              <text class="plot-text" x={left - 8} y={at.y(value)} dy="0.34em" text-anchor="end">
                {text}
              </text>
            </g>
          ))}
          {props.children(at)}
          <line class="plot-base" x1={left} x2={right} y1={bottom} y2={bottom} />
          {props.xTicks.map(([value, text]) => (
            <g key={value}>
              <line class="plot-base" x1={at.x(value)} x2={at.x(value)} y1={bottom} y2={bottom + 5} />
              <text class="plot-text" x={at.x(value)} y={bottom + 19} text-anchor={anchor(at.x(value), right)}>
                {text}
              </text>
            </g>
          ))}
          <text class="plot-text" x={0} y={11}>
            {props.yText}
          </text>
          <text class="plot-text" x={right} y={11} text-anchor="end">
            {props.xText}
          </text>
        </svg>
      )}
    </div>
  );
}

/** A centred label at the right end would be cut off. */
function anchor(x: number, right: number): 'middle' | 'end' {
  return x > right - 14 ? 'end' : 'middle';
}

/** An SVG path through points; a null breaks it. */
export function pathThrough(
  xs: readonly number[],
  ys: readonly (number | null)[],
  at: Pick<PlotPlaces, 'x' | 'y'>,
): string {
  let d = '';
  let down = false;
  ys.forEach((y, i) => {
    const x = xs[i];
    if (y === null || x === undefined) {
      down = false;
      return;
    }
    d += `${down ? 'L' : 'M'}${at.x(x).toFixed(1)} ${at.y(y).toFixed(1)}`;
    down = true;
  });
  return d;
}
