"""Autocorrelations and cross-correlations of ranks, as in related-readings.test.ts. Debian: python3-scipy, python3-statsmodels."""
import json
import numpy as np
import scipy
import statsmodels
from scipy.stats import rankdata
from statsmodels.tsa.stattools import acf, ccf

n = 96
i = np.arange(n)
a = np.round(np.sin(i / 5) + 0.3 * np.cos(i * i / 7), 3)
b = np.round(np.sin((i - 4) / 5) + 0.3 * np.cos(i * i / 11), 3)
half = n // 16
def scores(x):
    low = np.array([x[max(0, k - half):min(n, k + half + 1)].mean() for k in range(n)])
    r = rankdata(np.round(x - low, 9))
    r = r - r.mean()
    return r / np.sqrt((r ** 2).mean())
x, y = scores(a), scores(b)
own_a = acf(x, nlags=n // 4, fft=False, adjusted=False)[1:]
own_b = acf(y, nlags=n // 4, fft=False, adjusted=False)[1:]
cross = ccf(y, x, adjusted=False)[:9]
k = np.arange(1, n // 4 + 1)
pairs = n / max(1, 1 + 2 * np.sum((1 - k / n) * own_a * own_b))
print(json.dumps({'scipy': scipy.__version__, 'statsmodels': statsmodels.__version__, 'own': own_a[:4].tolist(), 'cross': cross.tolist(), 'pairs': pairs}))
