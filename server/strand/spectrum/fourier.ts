import FFT from 'fft.js';

/**
 * Discrete Fourier transform of a real series of any length: real and imaginary parts of frequencies 0 to n/2.
 *
 * fft.js takes powers of two only. Other lengths are transformed as a convolution with a chirp (Bluestein 1970, IEEE Trans.
 * Audio Electroacoust. 18), so that the frequencies are those of the series and not of a padded one.
 */
export function realSpectrum(values: ArrayLike<number>): { readonly re: Float64Array; readonly im: Float64Array } {
  const n = values.length;
  const bins = Math.floor(n / 2) + 1;
  const re = new Float64Array(bins);
  const im = new Float64Array(bins);
  if (n < 2) {
    re[0] = values[0] ?? 0;
    return { re, im };
  }
  if ((n & (n - 1)) === 0) {
    const fft = new FFT(n);
    const out = new Float64Array(2 * n);
    fft.realTransform(out, values);
    for (let k = 0; k < bins; k++) {
      re[k] = out[2 * k]!;
      im[k] = out[2 * k + 1]!;
    }
    return { re, im };
  }

  let size = 2;
  while (size < 2 * n - 1) size *= 2;
  const cos = new Float64Array(n);
  const sin = new Float64Array(n);
  for (let k = 0; k < n; k++) {
    // k² modulo 2n keeps the angle small, so long series lose no digits; k² stays below 2^53.
    const angle = (Math.PI * ((k * k) % (2 * n))) / n;
    cos[k] = Math.cos(angle);
    sin[k] = Math.sin(angle);
  }
  const fft = new FFT(size);
  const a = new Float64Array(2 * size);
  const b = new Float64Array(2 * size);
  for (let k = 0; k < n; k++) {
    a[2 * k] = values[k]! * cos[k]!;
    a[2 * k + 1] = -values[k]! * sin[k]!;
    b[2 * k] = cos[k]!;
    b[2 * k + 1] = sin[k]!;
    if (k > 0) {
      b[2 * (size - k)] = cos[k]!;
      b[2 * (size - k) + 1] = sin[k]!;
    }
  }
  const fa = new Float64Array(2 * size);
  const fb = new Float64Array(2 * size);
  fft.transform(fa, a);
  fft.transform(fb, b);
  for (let k = 0; k < size; k++) {
    const real = fa[2 * k]! * fb[2 * k]! - fa[2 * k + 1]! * fb[2 * k + 1]!;
    const imag = fa[2 * k]! * fb[2 * k + 1]! + fa[2 * k + 1]! * fb[2 * k]!;
    fa[2 * k] = real;
    fa[2 * k + 1] = imag;
  }
  fft.inverseTransform(a, fa);
  for (let k = 0; k < bins; k++) {
    re[k] = a[2 * k]! * cos[k]! + a[2 * k + 1]! * sin[k]!;
    im[k] = a[2 * k + 1]! * cos[k]! - a[2 * k]! * sin[k]!;
  }
  return { re, im };
}
