"""Makes reference-values.json with SciPy and statsmodels (Debian: python3-scipy, python3-statsmodels).

The tests need the values only, not this script:  /usr/bin/python3 make-reference-values.py > reference-values.json
"""

import json

import numpy as np
import scipy
import scipy.signal as signal
import scipy.stats as stats
import statsmodels
import statsmodels.api as sm

rng = np.random.default_rng(175)


def digits(values):
    return [float(v) for v in np.asarray(values).ravel()]


# Uneven sampling: a wave of period 7.3 and another of 2.9 in noise.
at = np.sort(rng.uniform(0, 60, 80))
values = 1.75 + 0.02 * np.sin(2 * np.pi * at / 7.3 + 0.4) + 0.01 * np.sin(2 * np.pi * at / 2.9) + 0.004 * rng.normal(size=80)
frequency = np.linspace(0.02, 0.9, 45)
centred = values - values.mean()
power = signal.lombscargle(at, centred, 2 * np.pi * frequency, precenter=False, normalize=False)
share = signal.lombscargle(at, centred, 2 * np.pi * frequency, precenter=False, normalize=True)

# Even sampling, lengths that are and are not a power of two.
even = {}
for n in (64, 97, 100):
    x = np.round(1.75 + 0.03 * np.sin(2 * np.pi * np.arange(n) / 8.7) + 0.01 * rng.normal(size=n), 6)
    entry = {"values": digits(x)}
    for name, window in (("none", "boxcar"), ("hann", "hann")):
        f, p = signal.periodogram(x, fs=2.5, window=window, detrend="constant", scaling="density")
        # Density times the distance of two frequencies: the share of the variance at each, adding up to it.
        entry[name] = {"frequency": digits(f[1:]), "power": digits(p[1:] * 2.5 / n)}
    even[str(n)] = entry


# Low-pass before every fourth value is kept: Kaiser window, 80 dB, from 0.8 to 1.2 of half the new rate.
factor, damping = 4, 80
half = int(np.ceil((damping - 8) / (2.285 * 0.4 * np.pi / factor) / 2))
taps = signal.firwin(2 * half + 1, 1 / factor, window=("kaiser", signal.kaiser_beta(damping)))
long = np.round(1.75 + 0.01 * rng.normal(size=203), 6)
padded = np.concatenate([np.zeros(half), long - long.mean(), np.zeros(half)])
filtered = long.mean() + np.convolve(padded, taps, mode="valid")[factor // 2 :: factor][: len(long) // factor]

sunspots = sm.datasets.sunspots.load_pandas().data
acf = sm.tsa.acf(values, nlags=5, fft=False)

print(json.dumps({
    "madeWith": {"scipy": scipy.__version__, "statsmodels": statsmodels.__version__, "numpy": np.__version__},
    "lombScargle": {"at": digits(at), "values": digits(values), "frequency": digits(frequency), "power": digits(power), "share": digits(share)},
    "even": even,
    "chiSquareQuantile": [[p, v, float(stats.chi2.ppf(p, v))] for v in (0.7, 1, 2, 9, 30.25, 181.5, 5000, 250000) for p in (0.001, 0.025, 0.5, 0.975, 0.999)],
    "normalQuantile": [[p, float(stats.norm.ppf(p))] for p in (1e-9, 0.001, 0.025, 0.3, 0.5, 0.8413, 0.975, 0.99999)],
    "normalCdf": [[z, float(stats.norm.cdf(z))] for z in (-8.0, -3.0, -1.96, -0.1, 0.0, 0.5, 1.645, 3.0, 6.0)],
    "autocorrelation": digits(acf),
    "lowPass": {"factor": factor, "taps": digits(taps), "values": digits(long), "filtered": digits(filtered)},
    "sunspots": {"firstYear": int(sunspots.YEAR.iloc[0]), "values": digits(sunspots.SUNACTIVITY)},
}, indent=1))
