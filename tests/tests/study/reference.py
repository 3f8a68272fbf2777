"""Reference values for the tests of `study` and `soak` that no publication gives.

Computed with numpy 2.4, scipy 1.17, statsmodels 0.15 and mpmath 1.3 (50 digits for points of distributions); the tests carry
what this prints. Run: python3 reference.py
"""

import mpmath as mp
import numpy as np
from scipy import optimize, stats
from statsmodels.stats.diagnostic import normal_ad

mp.mp.dps = 50

def t_tail(t, v):
    t, v = mp.mpf(t), mp.mpf(v)
    return mp.betainc(v / 2, mp.mpf(1) / 2, 0, v / (v + t * t), regularized=True) / 2

def chi_below(x, v):
    return mp.gammainc(mp.mpf(v) / 2, 0, mp.mpf(x) / 2, regularized=True)

def f_tail(f, a, b):
    f, a, b = map(mp.mpf, (f, a, b))
    return mp.betainc(b / 2, a / 2, 0, b / (b + a * f), regularized=True)

def show(name, *values):
    print(name, *(mp.nstr(mp.mpf(v), 15) if not isinstance(v, (int, str)) else v for v in values))

for tail, v in [(0.025, 1), (0.025, 4), (0.005, 9), (0.05 / 108, 52), (0.05 / 2000, 998), (1e-6, 30), (0.025, 100000)]:
    guess = stats.t.isf(tail, v)
    show("t", tail, v, mp.findroot(lambda t: t_tail(t, v) - mp.mpf(tail), guess))
for p, v in [(0.025, 1), (0.975, 1), (0.025, 5), (0.975, 5), (0.025, 65), (0.975, 65), (0.025, 18000), (0.975, 18000)]:
    guess = stats.chi2.ppf(p, v)
    show("chi", p, v, mp.findroot(lambda x: chi_below(x, v) - mp.mpf(p), guess))
for f, a, b in [(1.18046237440255, 4, 20), (15.9467335677930, 1, 46), (21.0, 8, 180), (201.0, 8, 1800), (0.5, 3, 7), (4.0, 2, 12)]:
    show("F", f, a, b, f_tail(f, a, b))
for tail, a, b in [(0.05, 1, 3), (0.05, 1, 34), (0.05, 1, 147), (0.01, 5, 60)]:
    guess = stats.f.isf(tail, a, b)
    show("F point", tail, a, b, mp.findroot(lambda f: f_tail(f, a, b) - mp.mpf(tail), guess))

# Anderson and Darling, mean and s from the sample.
near = [0.12, -0.31, 0.05, 0.44, -0.18, 0.27, -0.52, 0.09, 0.33, -0.07, 0.61, -0.24]
skew = [0.01, 0.02, 0.03, 0.05, 0.08, 0.13, 0.21, 0.34, 0.55, 0.89, 1.44, 2.33]
two = [-1.02, -1.01, -1.0, -0.99, -0.98, -0.97, 0.97, 0.98, 0.99, 1.0, 1.01, 1.02]
for name, x in (("near", near), ("skew", skew), ("two", two)):
    show("normality " + name, *normal_ad(np.array(x)))

# The curve with a constant: exact to a rule, plus a fixed pattern.
t = np.arange(0, 40) * 90.0
y = 0.5 + 0.08 * (1 - np.exp(-t / 1200.0)) + 0.001 * np.sin(2.7 * np.arange(40))
fit, covariance = optimize.curve_fit(lambda t, a, b, tau: a - b * np.expm1(-t / tau), t, y, [0.5, 0.1, 1000.0],
                                     xtol=1e-15, ftol=1e-15, gtol=1e-15)
show("growth", *fit, *np.sqrt(np.diag(covariance)), covariance[1, 2])

# Latency within two series: a common slope, an intercept each (ordinary least squares).
v = np.array([2, 6, 1, 4, 2, 6, 1, 4.0])
z = np.array([[1.0002, 0.9941, 1.0012, 0.9968, 1.0001, 0.9946, 1.0008, 0.9972],
              [1.0204, 1.0145, 1.0217, 1.0171, 1.0206, 1.0139, 1.0211, 1.0170]])
design = np.zeros((16, 3)); design[:8, 0] = 1; design[8:, 1] = 1; design[:, 2] = np.tile(v, 2)
beta, rest, *_ = np.linalg.lstsq(design, z.ravel(), rcond=None)
show("latency", -beta[2], np.sqrt(rest[0] / 13 * np.linalg.inv(design.T @ design)[2, 2]))

# A soak: the fit, the profile's limits of tau and of the wait (F with 1 and n - 3 degrees of freedom), what is left and its doubt by the covariance.
def heights(n, every, height, wobble):
    t = every * np.arange(n)
    return t, np.array([round(height(x) + wobble * np.sin(2.1 * i), 6) for i, x in enumerate(t)])

def rest_at(t, y, tau):
    design = np.column_stack([np.ones(len(t)), -np.expm1(-t / tau)])
    apart = y - design @ np.linalg.lstsq(design, y, rcond=None)[0]
    return apart @ apart

def line(t, y):
    s = stats.linregress(t, y)
    return s.slope * 3600, (abs(s.slope) + stats.t.isf(0.025, len(t) - 2) * s.stderr) * t[-1]

t, y = heights(30, 120.0, lambda x: 1.0 + 0.05 * (1 - np.exp(-x / 800.0)), 0.0004)
curve = lambda t, a, b, tau: a - b * np.expm1(-t / tau)
(a, b, tau), covariance = optimize.curve_fit(curve, t, y, [1, 0.05, 800.0], xtol=1e-14, ftol=1e-14, gtol=1e-14)
rest, dof, end, left = ((y - curve(t, a, b, tau)) ** 2).sum(), len(t) - 3, t[-1], 0.002
allowed = rest * (1 + stats.f.isf(0.05, 1, dof) / dof)
inside = lambda tau: rest_at(t, y, tau) - allowed
show("soak", a, b, tau, rest, optimize.brentq(inside, 10, tau), optimize.brentq(inside, tau, 20000))
doubt = lambda *by: float(np.sqrt(np.array(by) @ covariance @ np.array(by)))
still = np.exp(-end / tau)
show("soak left", b * still, doubt(0, still, b * still * end / tau**2))
wait = tau * np.log(b / left)
def profile(wait):
    def off(log_tau):
        v = y + left * np.exp((wait - t) / np.exp(log_tau))
        return ((v - v.mean()) ** 2).sum()
    about = np.log(tau)
    return optimize.minimize_scalar(off, bounds=(about - 0.2, about + 0.2), method="bounded",
                                    options=dict(xatol=1e-11)).fun - allowed
show("soak wait", wait, doubt(0, tau / b, np.log(b / left)), optimize.brentq(profile, wait - 150, wait),
     optimize.brentq(profile, wait, wait + 150))
t, y = heights(20, 60.0, lambda x: 1.0 + 2e-5 * x, 0.0004)
rest = rest_at(t, y, 1000 * t[-1])
allowed = rest * (1 + stats.f.isf(0.05, 1, 17) / 17)
show("straight", line(t, y)[0], optimize.brentq(lambda tau: rest_at(t, y, tau) - allowed, t[-1] / 10, 1000 * t[-1]))
show("still", line(*heights(20, 60.0, lambda x: 1.0, 0.0002))[1])
