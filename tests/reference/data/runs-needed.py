"""Runs needed by the exact power of a two-sided t test (noncentral t), as in differences.test.ts. Debian: python3-scipy."""

from math import sqrt

from scipy import stats


def needed(size, spread, alpha, power=0.8):
    for n in range(2, 51):
        degrees = 2 * n - 2
        beyond = stats.t.ppf(1 - alpha / 2, degrees)
        shift = size / spread * sqrt(n / 2)
        if stats.nct.sf(beyond, degrees, shift) + stats.nct.cdf(-beyond, degrees, shift) >= power:
            return n
    return None


for size, spread, alpha in ((1, 1, 0.05), (1.5, 1, 0.05), (2, 1, 0.05), (3, 1, 0.05), (0.5, 1, 0.05), (0.7, 0.3, 0.0045), (0.223, 0.1, 0.0045), (2, 1, 0.0045)):
    print(size, spread, alpha, needed(size, spread, alpha))
