const cache = new Map<string, CanvasPattern>();

/** Diagonal hatching (discard) or dots (doubtful) for a canvas; the same marks as the style sheet draws. */
export function pattern(kind: 'hatch' | 'dots', colour: string, dpr: number): CanvasPattern | string {
  const key = `${kind} ${colour} ${dpr}`;
  const known = cache.get(key);
  if (known) return known;
  const size = Math.round((kind === 'hatch' ? 7 : 6) * dpr);
  const tile = document.createElement('canvas');
  tile.width = tile.height = size;
  const ctx = tile.getContext('2d');
  if (!ctx) return colour;
  ctx.strokeStyle = ctx.fillStyle = colour;
  if (kind === 'hatch') {
    ctx.lineWidth = size * 0.26;
    ctx.beginPath();
    for (const shift of [-size, 0, size]) {
      ctx.moveTo(shift - 1, size + 1);
      ctx.lineTo(shift + size + 1, -1);
    }
    ctx.stroke();
  } else {
    ctx.beginPath();
    ctx.arc(size / 2, size / 2, size * 0.19, 0, 7);
    ctx.fill();
  }
  const made = ctx.createPattern(tile, 'repeat');
  if (!made) return colour;
  cache.set(key, made);
  return made;
}
