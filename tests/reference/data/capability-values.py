"""Values of capability.test.ts, with quantiles by SciPy (Debian: python3-scipy) and sums by NumPy, from the formulas that the
files under test name. The tests need the values only, not this script:  /usr/bin/python3 capability-values.py
"""

import numpy as np
from scipy.stats import chi2, t


def spread_interval(value, degrees, factor=1.0):
    return [value / factor * np.sqrt(chi2.ppf(p, degrees) / degrees) for p in (0.025, 0.975)]


def capability(lower, upper, target, mean, sd_within, sd_overall, ranges, for_mean, for_sd):
    within, overall = ranges * 0.605, for_sd - 1
    share = min(upper - mean, mean - lower) / ((upper - lower) / 2)
    shortfall = np.sqrt(1 + min(0.3, max(0.0, 1 / (for_mean - 1) - 1 / ranges)))
    half = sd_overall / np.sqrt(for_mean) * t.ppf(0.975, overall)

    def placed(value, ends, mean_half):
        below, above = (value - ends[0]) * share, (ends[1] - value) * share
        down, up = (below, above) if share >= 0 else (-above, -below)
        return [value * share, value * share - np.hypot(down, mean_half), value * share + np.hypot(up, mean_half)]

    cp, pp = (upper - lower) / (6 * sd_within), (upper - lower) / (6 * sd_overall)
    cp_ends, pp_ends = spread_interval(cp, within), spread_interval(pp, overall, shortfall)
    off = (mean - target) / sd_overall
    boyles = (1 + off**2) ** 2 / (1 / overall + 2 * off**2 / for_mean)
    cpm = (upper - lower) / (6 * np.hypot(sd_overall, mean - target))
    return {
        "cp": [cp, *cp_ends],
        "cpk": placed(cp, cp_ends, half / (3 * sd_within)),
        "pp": [pp, *pp_ends],
        "ppk": placed(pp, pp_ends, half / (3 * sd_overall)),
        "cpm": [cpm, *spread_interval(cpm, boyles)],
    }


def long_run_spread(x, fitted, errors=0.0):
    """σ, σ of the squares, φ: the largest of points and of means of two and four."""
    x = np.asarray(x, float)
    found = np.zeros(3)
    for k in (1, 2, 4):
        n = len(x) // k
        if k > 1 and n < 25:
            break
        means = x[: n * k].reshape(n, k).mean(axis=1)
        squares, products = (means**2).sum(), (means[1:] * means[:-1]).sum()
        if not k * k * squares > 0.01 * (x**2).sum():
            continue
        seen = np.clip((n * products / squares + fitted) / (n - 3 * fitted - 1), 0, 1)
        phi = min(0.95, seen + errors * np.sqrt((1 - seen**2) / n))
        each = squares / (n - fitted)
        found = np.maximum(found, [k * each * (1 + phi) / (1 - phi), 2 * k * each**2 * (1 + phi**2) / (1 - phi**2), phi])
    return [np.sqrt(found[0]), np.sqrt(found[1]), found[2]]


def effective_size(values):
    """n, for the mean, for the standard deviation: of values of which some are NaN."""
    residuals = values - np.nanmean(values)
    joined = max(1, len(values) // 100)
    parts = residuals[: len(values) // joined * joined].reshape(-1, joined)
    parts = parts[~np.isnan(parts).all(axis=1)]
    count = int((~np.isnan(values)).sum())
    sigma = long_run_spread(np.nanmean(parts, axis=1), 1)[0]
    for_mean = min(count, np.nansum(parts**2) / count / sigma**2 * len(parts))
    return [count, for_mean, min(count, 2 * for_mean)]


def batch_estimate(values, figure):
    """Value, standard error, degrees of freedom: a jackknife with the error from the long-run spread."""
    n, value = len(values), figure(values)
    pseudo = np.array([n * value - (n - 1) * figure(np.delete(values, i)) for i in range(n)])
    centre, variance = pseudo.mean(), pseudo.var(ddof=1)
    independent = min(n, n * variance / long_run_spread(pseudo - centre, 1)[0] ** 2)
    return [value + n / independent * (centre - value), np.sqrt(variance / independent), max(1, independent - 1)]


def show(name, values):
    print(name, [round(float(v), 9) for v in values])


for case in (
    (1.7, 1.8, 1.75, 1.764, 0.01, 0.016, 400, 24, 60),
    (1.7, 1.8, 1.75, 1.812, 0.01, 0.016, 400, 24, 60),
    (1.7, 1.8, 1.75, 1.738, 0.012, 0.015, 50, 3, 20),
):
    for key, values in capability(*case).items():
        show(key, values)

i = np.arange(120)
wave = np.sin(i / 3) + 0.5 * np.sin(1.7 * i)
alternating = (-1.0) ** i + 0.001 * np.sin(i / 9)
for x in (wave, wave[:40], wave[:101], alternating):
    for fitted, errors in ((0, 0), (1, 0), (2, 1.5)):
        show(f"long-run spread of {len(x)}", long_run_spread(x, fitted, errors))
j = np.arange(460)
gappy = 1.75 + 0.01 * np.sin(j / 7) + 0.02 * np.sin(2.3 * j)
gappy[[3, 4, 5, 6, 7, 11, 200]] = np.nan
show("effective size", effective_size(gappy))
show("effective size, steep", effective_size(np.arange(50.0)))
show("batch mean", batch_estimate(wave[:30], np.mean))
show("batch sd", batch_estimate(wave[:30], lambda x: np.log(x.std())))
