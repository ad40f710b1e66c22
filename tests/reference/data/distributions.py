"""Values of distributions for tests/reference/probability.test.ts: python3 distributions.py (SciPy 1.17.1)."""

from scipy.stats import beta, chi2, t

CASES = {
    "chiSquareTail": (chi2.sf, [[0, 3], [0.1, 1], [1, 1], [5, 1], [3, 19], [28, 19], [110, 150], [250, 150]]),
    "incompleteBeta": (
        beta.cdf,
        [[-1, 2, 3], [0, 2, 3], [0.3, 2.5, 7], [0.9, 2.5, 7], [0.5, 0.5, 0.5], [0.7, 20, 3], [0.97, 200, 5], [1, 2, 3], [2, 2, 3]],
    ),
    "betaQuantile": (beta.ppf, [[0, 3, 9], [0.025, 3, 9], [0.5, 1, 40], [0.975, 60, 2]]),
    "studentTwoSided": (lambda x, f: 2 * t.sf(x, f), [[0, 3], [0.1, 1], [2, 2.5], [10, 3], [0.001, 50]]),
    "studentHalfWidth": (lambda c, f: t.isf((1 - c) / 2, f), [[0.01, 4], [0.5, 1], [0.95, 2.5], [0.9999, 0.7], [0.99, 1000]]),
}

for name, (function, arguments) in CASES.items():
    rows = ", ".join(f"[{', '.join(map(repr, one))}, {float(function(*one))!r}]" for one in arguments)
    print(f"  [{name}, [{rows}]],")
