"""Reference values of regression.test.ts: statsmodels and scipy of Debian (python3-statsmodels 0.13.5). Run: python3 reference-regression.py"""
import json
import pathlib
import numpy as np
import statsmodels.api as sm
from scipy.optimize import brentq, minimize

here = pathlib.Path(__file__).parent
nights = json.loads((here / "made-up-nights.json").read_text())
columns = np.array([[n["dryingH"] >= 4, n["dryingH"] >= 8, n["sieveMm"] >= 4] for n in nights], float)
x = np.column_stack([np.ones(len(nights)), columns - columns.mean(axis=0)])
blobs = np.array([n["blobs"] for n in nights], float)
metres = np.array([n["metres"] for n in nights]) / 100


def fit(between):
    """Negative binomial with a fixed variance m + between m^2, as statsmodels fits it."""
    family = sm.families.NegativeBinomial(alpha=between)
    return sm.GLM(blobs, x, family=family, exposure=metres).fit(tol=1e-14, maxiter=500, scale=1)


between = brentq(lambda one: fit(one).pearson_chi2 - (len(nights) - x.shape[1]), 1e-6, 5, xtol=1e-14)
free = fit(between)

# With the prior N(0, 0.5^2) on all but the first: the quasi-score plus the prior set to zero by scipy, the variance between runs
# so that Pearson's statistic is n less the trace of the smoother.
precision = np.diag([0, 1, 1, 1]) / 0.5**2


def ridge(between):
    def loss(beta):
        mean = np.exp(x @ beta) * metres
        likelihood = blobs * np.log(mean / (1 + between * mean)) - np.log1p(between * mean) / between
        return -np.sum(likelihood) + beta @ precision @ beta / 2

    def slope(beta):
        mean = np.exp(x @ beta) * metres
        return -x.T @ ((blobs - mean) / (1 + between * mean)) + precision @ beta

    beta = minimize(loss, free.params, jac=slope, method="BFGS", options={"gtol": 1e-10}).x
    mean = np.exp(x @ beta) * metres
    information = x.T @ ((mean / (1 + between * mean))[:, None] * x)
    inverse = np.linalg.inv(information + precision)
    degrees = len(nights) - np.trace(inverse @ information)
    pearson = np.sum((blobs - mean) ** 2 / (mean * (1 + between * mean)))
    return pearson - degrees, beta, np.sqrt(np.diag(inverse)), degrees


between_ridge = brentq(lambda one: ridge(one)[0], 1e-6, 5, xtol=1e-12)
_, beta, errors, degrees = ridge(between_ridge)
print(json.dumps({
    "free": {"coefficients": list(free.params), "standardErrors": list(free.bse), "betweenRuns": between},
    "ridge": {"coefficients": list(beta), "standardErrors": list(errors), "betweenRuns": between_ridge, "degreesOfFreedom": degrees},
}, indent=2))
