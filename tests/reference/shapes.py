"""Reference for shapes fitted to measured values, by NumPy and SciPy.

The values are invented: three columns of 40 numbers near 1 from NumPy's generator, rounded to five
decimals. Each fit is found in another way than in the program: the triangle by a general-purpose
minimiser, the cut normal distributions by a root finder on the moments of scipy.stats.truncnorm.

Usage: python3 shapes.py > ../data/shapes.json     (numpy and scipy needed)
"""

import json

import numpy as np
import scipy
from scipy import optimize, stats

LIMITS = (0.95, 1.07)


def columns():
    random = np.random.default_rng(20)
    drawn = {
        "normal": random.normal(1.0, 0.02, 40),
        "skewed": 0.95 + 0.12 * random.beta(1.5, 4.0, 40),
        "uniform": random.uniform(0.96, 1.06, 40),
    }
    return {name: np.sort(np.round(np.clip(x, 0.9501, 1.0699), 5)) for name, x in drawn.items()}


def distances(z):
    n = len(z)
    i = np.arange(1, n + 1)
    a = -n - np.sum((2 * i - 1) * (np.log(z) + np.log1p(-z[::-1]))) / n
    return {"anderson_darling": a, "kolmogorov_smirnov": stats.kstest(z, "uniform").statistic}


def triangle(x):
    def lost(v):
        m, h = v
        inside = h - np.abs(x - m)
        return np.inf if inside.min() <= 0 else 2 * len(x) * np.log(h) - np.log(inside).sum()

    start = [np.mean(x), 1.2 * np.max(np.abs(x - np.mean(x)))]
    options = {"xatol": 1e-12, "fatol": 1e-13, "maxiter": 20000, "maxfev": 20000}
    best = min((optimize.minimize(lost, [start[0] + d, start[1] * 1.3], method="Nelder-Mead",
                                  options=options) for d in (-.01, 0, .01)), key=lambda r: r.fun)
    return best.x, stats.triang(0.5, best.x[0] - best.x[1], 2 * best.x[1])


def cut_normal(x, low, high):
    def shape(v):
        mean, sigma = v[0], np.exp(v[1])
        return stats.truncnorm((low - mean) / sigma, (high - mean) / sigma, mean, sigma)

    def missed(v):
        return [shape(v).mean() - x.mean(), shape(v).std() - x.std(ddof=1)]

    v = optimize.fsolve(missed, [x.mean(), np.log(1.2 * x.std(ddof=1))], xtol=1e-13)
    assert np.max(np.abs(missed(v))) < 1e-10, missed(v)
    return [v[0], np.exp(v[1])], shape(v)


def fits(x):
    n = len(x)
    beyond = (x[-1] - x[0]) / (n - 1)
    ends = [x[0] - beyond, x[-1] + beyond]
    found = {
        "uniform": (ends, stats.uniform(ends[0], ends[1] - ends[0]).cdf(x)),
        "normal": ([x.mean(), x.std(ddof=1)], stats.norm(x.mean(), x.std(ddof=1)).cdf(x)),
    }
    log = np.log(x)
    found["lognormal"] = ([log.mean(), log.std(ddof=1)],
                          stats.lognorm(log.std(ddof=1), 0, np.exp(log.mean())).cdf(x))
    parameters, shape = triangle(x)
    found["triangular"] = (parameters, shape.cdf(x))
    y = (x - LIMITS[0]) / (LIMITS[1] - LIMITS[0])
    total = y.mean() * (1 - y.mean()) / y.var(ddof=1) - 1
    exponents = [y.mean() * total, (1 - y.mean()) * total]
    found["beta"] = (exponents, stats.beta(*exponents).cdf(y))
    try:
        parameters, shape = cut_normal(x, *LIMITS)
        if LIMITS[0] < parameters[0] < LIMITS[1]:
            found["cut normal"] = (parameters, shape.cdf(x))
    except AssertionError:
        pass
    return {name: {"parameters": [float(p) for p in v], **distances(z)}
            for name, (v, z) in found.items()}


def kolmogorov():
    points = [(10, 0.2), (10, 0.409246), (20, 0.294075), (35, 0.1), (100, 0.134028), (400, 0.05),
              (2000, 0.02), (2000, 0.03), (7, 0.9)]
    return [{"n": n, "d": d, "beyond": stats.kstwo.sf(d, n)} for n, d in points]


if __name__ == "__main__":
    data = columns()
    print(json.dumps({
        "made_by": f"tests/reference/shapes.py, SciPy {scipy.__version__}",
        "limits": LIMITS,
        "columns": {name: {"values": list(x), "fits": fits(x)} for name, x in data.items()},
        "kolmogorov": kolmogorov(),
    }, indent=1))
