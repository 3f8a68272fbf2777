#!/usr/bin/env python3
"""Makes the constant tables of the numeric core.

Run from the top of the repository (about three minutes on one processor, nearly all of it for the
Hodges-Lehmann table):

    python3 core/tables.py > core/src/tables.rs

Needs Python 3.9, numpy 1.22 and scipy 1.8 or newer. The output is deterministic: the random bits
are the raw output of PCG64 with a fixed seed, which numpy keeps stable between versions, and they
become normal deviates by the inverse distribution function. Every table is checked before it is
printed, against closed forms and published values; a failed check ends the run with an
AssertionError (do not run with -O).
"""

import math
import sys
import textwrap

import numpy as np
from scipy import optimize, special

COVERAGES = (0.90, 0.95, 0.99)
T_ROWS = 32  # exact quantiles for nu = 1..=32, the series from 33 on
N_MAX = 64
HL_PAIR_MEANS = 200_000_000  # how many a simulated n may form, within the bounds below
HL_TRIALS = (150_000, 2_000_000)
HL_SEED = 20_250_101
NOISE_LEVEL = 0.0002
NOISE_FIRST = 3
NOISE_FIRST_NU = 12
FAR_T = 0.9995
FAR_T_FIRST = 3
VN_FIRST = 5
VN_LEVEL = 0.001
WIDTH = 100  # longest line of the printed file


def close(seen, wanted, allowed, what):
    """Stops the run when a value is further from its reference than allowed."""
    assert abs(seen - wanted) <= allowed, f"{what}: {seen} against {wanted}, allowed {allowed}"


def scaled(value, bits):
    """The value in units of 2^-bits, to nearest."""
    return int(math.floor(value * 2.0**bits + 0.5))


# ---------------------------------------------------------------------------- Student's t


def student_t(nu, coverage):
    """Two-sided factor k: Student's t with nu degrees of freedom lies within +-k with `coverage`."""
    return float(special.stdtrit(nu, 0.5 + coverage / 2))


def normal_k(coverage):
    """The same for infinite degrees of freedom."""
    return float(special.ndtri(0.5 + coverage / 2))


def t_series(z):
    """Coefficients of 1/nu, 1/nu^2, 1/nu^3: Abramowitz & Stegun 26.7.5."""
    return (
        (z**3 + z) / 4,
        (5 * z**5 + 16 * z**3 + 3 * z) / 96,
        (3 * z**7 + 19 * z**5 + 17 * z**3 - 15 * z) / 384,
    )


def t_from_table(nu, z_q16, series, bits=13):
    """The core's integer evaluation, for nu above the rows of the table; coefficients in units of 2^-bits."""
    x = (1 << 20) // nu
    c1, c2, c3 = series
    inner = c2 + (c3 * x >> 20)
    outer = c1 + (inner * x >> 20)
    assert max(c3 * x, inner * x, outer * x) < 1 << 32
    return z_q16 + (outer * x >> 4 + bits)


def make_student():
    rows = [[student_t(nu, p) for p in COVERAGES] for nu in range(1, T_ROWS + 1)]
    for p, one, two, four in zip(COVERAGES, *(rows[nu - 1] for nu in (1, 2, 4))):
        # Closed forms of the quantile at nu = 1, 2, 4.
        close(one / math.tan(math.pi * p / 2), 1, 1e-12, f"t, nu = 1, {p}")
        close(two / (p * math.sqrt(2 / (1 - p * p))), 1, 1e-12, f"t, nu = 2, {p}")
        root = math.sqrt(1 - p * p)
        closed = 2 * math.sqrt(math.cos(math.acos(root) / 3) / root - 1)
        close(four / closed, 1, 1e-12, f"t, nu = 4, {p}")
    # JCGM 100:2008 table G.2 (from memory): two decimals.
    for nu, printed in ((1, (6.31, 12.71, 63.66)), (5, (2.02, 2.57, 4.03)), (16, (1.75, 2.12, 2.92))):
        for seen, wanted in zip(rows[nu - 1], printed):
            close(seen, wanted, 0.005, f"t, nu = {nu}")

    table = [[scaled(k, 16) for k in row] for row in rows]
    normal = [scaled(normal_k(p), 16) for p in COVERAGES]
    series = [[scaled(c, 13) for c in t_series(normal_k(p))] for p in COVERAGES]
    worst = 0.0
    for column, p in enumerate(COVERAGES):
        before = table[-1][column]
        far = [2**e for e in range(12, 32)]
        for nu in [*range(T_ROWS + 1, 3000), *far]:
            k = t_from_table(nu, normal[column], series[column])
            assert k <= before, f"k rises at nu = {nu}, {p}"
            before = k
            worst = max(worst, abs(k / 2**16 / student_t(nu, p) - 1))
        worst = max(worst, abs(normal[column] / 2**16 / normal_k(p) - 1))
    assert worst < 1e-4
    return table, normal, series, worst


# ---------------------------------------------------------------------------- the centres' factors


def log_binomial_front(n, below, above):
    """log of n! / (below! above!)."""
    return math.lgamma(n + 1) - math.lgamma(below + 1) - math.lgamma(above + 1)


def log_density(x):
    """log of the normal density."""
    return -0.5 * x * x - 0.5 * math.log(2 * math.pi)


def median_factor(n, step):
    """n Var(median) of n unit normals, from the density of the middle order statistics.

    Odd n: one order statistic, trapezoid rule over the whole line. Even n: the joint density of the
    two middle ones at m - d and m + d, trapezoid rule in m, Gauss-Legendre in d >= 0. Both converge
    exponentially. The integral of the density, which must be 1, comes with it.
    """
    m = np.arange(-12, 12 + step / 2, step)
    if n % 2:
        half = n // 2
        front = log_binomial_front(n, half, half)
        log_f = front + half * (special.log_ndtr(m) + special.log_ndtr(-m)) + log_density(m)
        f = np.exp(log_f) * step
        return n * float(np.sum(m * m * f)), float(np.sum(f))
    half = n // 2 - 1
    node, weight = np.polynomial.legendre.leggauss(round(12 / step))
    d, weight = (node + 1) * 5, weight * 5
    low, high = m[:, None] - d, m[:, None] + d
    front = log_binomial_front(n, half, half)
    log_f = front + half * (special.log_ndtr(low) + special.log_ndtr(-high))
    # Twice: the map from (m, d) to the two values doubles areas.
    f = 2 * np.exp(log_f + log_density(low) + log_density(high)) * step * weight
    return n * float(np.sum(m[:, None] ** 2 * f)), float(np.sum(f))


def make_median():
    factors = []
    for n in range(1, N_MAX + 1):
        c, total = median_factor(n, 0.05)
        finer, _ = median_factor(n, 0.03)
        close(total, 1, 1e-9, f"median density, n = {n}")
        close(c, finer, 1e-9, f"median factor at two steps, n = {n}")
        factors.append(c)
    for n, closed in ((1, 1), (2, 1), (3, 3 - 3 * math.sqrt(3) / math.pi)):
        close(factors[n - 1], closed, 1e-9, f"median factor, n = {n}")
    # Published efficiencies, three decimals: stats.stackexchange.com/questions/468688.
    for n, efficiency in ((3, 0.743), (4, 0.838), (5, 0.697), (7, 0.679), (9, 0.669), (16, 0.692)):
        close(1 / factors[n - 1], efficiency, 5.1e-4, f"median efficiency, n = {n}")
    assert all(c < math.pi / 2 for c in factors)
    return factors


def normals(bits, rows, columns):
    """Standard normal deviates from raw 64-bit words, stable between versions of numpy."""
    words = bits.random_raw(rows * columns) >> np.uint64(11)
    return special.ndtri((words.astype(np.float64) + 0.5) * 2.0**-53).reshape(rows, columns)


def hodges_lehmann(x):
    """Median of all pair means (i <= j) of each row; the mean of the two middle ones if even."""
    rows, n = x.shape
    pairs = n * (n + 1) // 2
    sums = np.empty((rows, pairs))
    at = 0
    for i in range(n):
        np.add(x[:, i : i + 1], x[:, i:], out=sums[:, at : at + n - i])
        at += n - i
    low, high = (pairs - 1) // 2, pairs // 2
    sums.partition(sorted({low, high}), axis=1)
    return (sums[:, low] + sums[:, high]) / 4


def hodges_lehmann_factor(n):
    """n Var(centre) of n unit normals by simulation, and its standard error.

    Basu's theorem twice: the mean is independent of what is left after subtracting it, so
    n Var(centre) = 1 + n Var(centre - mean); and (centre - mean)/s is independent of s, E s^2 = 1,
    so Var(centre - mean) = E[((centre - mean)/s)^2]. Only that small rest is simulated.
    """
    bits = np.random.PCG64([HL_SEED, n])
    batch = 250
    least, most = HL_TRIALS
    trials = min(max(HL_PAIR_MEANS // (n * (n + 1) // 2), least), most)
    rest = []
    for _ in range(trials // batch):
        x = normals(bits, batch, n)
        x -= x.mean(axis=1, keepdims=True)
        rest.append(n * hodges_lehmann(x) ** 2 * (n - 1) / np.sum(x * x, axis=1))
    rest = np.concatenate(rest)
    return 1 + float(rest.mean()), float(rest.std(ddof=1)) / math.sqrt(rest.size)


def make_hodges_lehmann(median_of_three):
    # One value, or two: the centre is the mean. At n = 3 it is (x1 + 2 x2 + x3)/4 of the sorted
    # values, a quarter of the way from the mean to the median; the simulation must agree.
    found = [(1.0, 0.0), (1.0, 0.0), (1 + (median_of_three - 1) / 16, 0.0)]
    c, error = hodges_lehmann_factor(3)
    close(c, found[2][0], 4 * error, "Hodges-Lehmann factor, n = 3")
    for n in range(4, N_MAX + 1):
        found.append(hodges_lehmann_factor(n))
        print(f"Hodges-Lehmann n = {n}: {found[-1][0]:.5f} ({found[-1][1]:.5f})", file=sys.stderr)
    # Hodges and Lehmann 1963: the limit for many values is pi/3.
    c, error = found[-1]
    close(c, math.pi / 3, 0.01, "Hodges-Lehmann factor, last")
    worst = max(error for _, error in found)
    assert worst < 5e-4
    return [c for c, _ in found], max(error for _, error in found[:9]), worst


# ---------------------------------------------------------------------------- von Neumann's ratio


def ratio_below(v, n):
    """P(sum of squared successive differences / sum of squared deviations < v), n normals.

    It is P(Q < 0) with Q = sum_k (4 sin^2(pi k / 2n) - v) z_k^2, k = 1..n-1, by Imhof's inversion
    (Biometrika 48 (1961) 419). With u = e^t the integrand decays exponentially both ways and the
    trapezoid rule converges exponentially.
    """
    k = np.arange(1, n)
    weight = 4 * np.sin(np.pi * k / (2 * n)) ** 2 - v
    step = 0.05
    u = np.exp(np.arange(-45, 30, step))[:, None]
    angle = 0.5 * np.sum(np.arctan(weight * u), axis=1)
    log_rho = 0.25 * np.sum(np.log1p((weight * u) ** 2), axis=1)
    return 0.5 - float(np.sum(np.sin(angle) * np.exp(-log_rho))) * step / math.pi


def ratio_point(n, level):
    """The ratio's lower point at the level."""
    lowest = 4 * math.sin(math.pi / (2 * n)) ** 2
    return optimize.brentq(lambda v: ratio_below(v, n) - level, lowest, 2, xtol=1e-12, rtol=1e-12)


def make_von_neumann():
    # Three values: the ratio is 2 + cos(an angle spread evenly), so its point has a closed form.
    for level in (0.001, 0.01, 0.05):
        close(ratio_point(3, level), 2 - math.cos(math.pi * level), 1e-9, "ratio, n = 3")
    # Hart, Annals of Mathematical Statistics 13 (1942) 207 (from memory), 1 % and 5 % points of the
    # ratio times n / (n - 1).
    for n, one, five in ((5, 0.6724, 1.0255), (10, 0.8353, 1.1803), (20, 1.0954, 1.3680)):
        close(ratio_point(n, 0.01) * n / (n - 1), one, 2e-4, f"Hart, 1 %, n = {n}")
        close(ratio_point(n, 0.05) * n / (n - 1), five, 2e-4, f"Hart, 5 %, n = {n}")
    return [ratio_point(n, VN_LEVEL) for n in range(VN_FIRST, N_MAX + 1)]


# ---------------------------------------------------------------------------- Fisher's F, Student's t far out


def noise_row(n):
    """Point q of chi^2(n - 1)/(n - 1) and a, b, c of q (1 + a/nu + b/nu^2 + c/nu^3) for F(n - 1, nu).

    The three are fitted to the exact points so that the largest relative error is least (Lawson's reweighted
    least squares).
    """
    nu = np.unique(np.round(np.concatenate([np.arange(NOISE_FIRST_NU, 60), np.geomspace(60, 1e6, 60)])))
    q = float(special.chdtri(n - 1, NOISE_LEVEL)) / (n - 1)
    exact = special.fdtri(n - 1, nu, 1 - NOISE_LEVEL) / q
    powers = np.stack([1 / nu, 1 / nu**2, 1 / nu**3], 1)
    weight = np.ones(len(nu))
    for _ in range(400):
        by = np.sqrt(weight) / exact
        found, *_ = np.linalg.lstsq(powers * by[:, None], (exact - 1) * by, rcond=None)
        weight *= np.abs((1 + powers @ found) / exact - 1)
        weight /= weight.sum()
    return [q, *(float(x) for x in found)]


def noise_from_table(row, nu):
    """The core's integer evaluation, in Q16."""
    q, a, b, c = row
    x = (1 << 20) // nu
    h = b + (c * x >> 16)
    h = a + (h * x >> 18)
    h = (1 << 16) + (h * x >> 15)
    return q * h >> 12


def make_noise():
    table, worst = [], 0.0
    for n in range(NOISE_FIRST, N_MAX + 1):
        row = [scaled(v, bits) for v, bits in zip(noise_row(n), (12, 11, 9, 5))]
        assert all(0 < v < 1 << 16 for v in row), n
        for nu in [*range(NOISE_FIRST_NU, 3000), *(2**e for e in range(12, 32))]:
            exact = special.fdtri(n - 1, nu, 1 - NOISE_LEVEL)
            worst = max(worst, abs(noise_from_table(row, nu) / 2**16 / exact - 1))
        table.append(row)
    # Closed forms: F(2, nu) has 1 - (1 + 2x/nu)^(-nu/2) below x; chi^2(2)/2 is exponential.
    close(special.fdtri(2, 12, 1 - NOISE_LEVEL), 6 * (NOISE_LEVEL ** (-1 / 6) - 1), 1e-9, "F(2, 12)")
    close(noise_row(3)[0], -math.log(NOISE_LEVEL), 1e-9, "chi^2(2)/2")
    assert worst < 5e-3
    return table, worst


def make_far_t():
    """Quantiles of Student's t at 0.9995 for nu = FAR_T_FIRST..=T_ROWS, and their series."""
    rows = [float(special.stdtrit(nu, FAR_T)) for nu in range(FAR_T_FIRST, T_ROWS + 1)]
    # NIST/SEMATECH e-Handbook 1.3.6.7.2 has 0.999; this column is in most printed tables (from memory).
    for nu, printed in ((3, 12.924), (5, 6.869), (10, 4.587), (30, 3.646)):
        close(rows[nu - FAR_T_FIRST], printed, 6e-4, f"t at 0.9995, nu = {nu}")
    z = float(special.ndtri(FAR_T))
    table, normal = [scaled(k, 12) for k in rows], scaled(z, 16)
    series = [scaled(c, 11) for c in t_series(z)]
    worst = max(
        abs(t_from_table(nu, normal, series, 11) / 2**16 / special.stdtrit(nu, FAR_T) - 1)
        for nu in [*range(T_ROWS + 1, 3000), *(2**e for e in range(12, 32))]
    )
    assert worst < 1e-4
    return table, [normal, *series], worst


# ---------------------------------------------------------------------------- printing


def item(doc, name, shape, rows):
    """One static with its doc comment; one printed row per inner list."""
    paragraphs = doc.strip().split("\n\n")
    filled = "\n\n".join(textwrap.fill(" ".join(p.split()), WIDTH - 4) for p in paragraphs)
    lines = [f"/// {line}".rstrip() for line in filled.split("\n")]
    lines.append("#[rustfmt::skip]")
    lines.append(f"pub(crate) static {name}: {shape} = [")
    lines += [f"    {row}" for row in rows]
    lines.append("];")
    assert all(len(line) <= WIDTH for line in lines), name
    return "\n".join(lines)


def nested(table):
    """Rows of a table of rows."""
    return ["[" + ", ".join(str(v) for v in row) + "]," for row in table]


def flat(values, first):
    """Rows of a plain table, broken after each n that ends in 0, so that an n is found by eye."""
    rows, row = [], []
    for n, value in enumerate(values, first):
        row.append(f"{value:>5},")
        if n % 10 == 0 or n == first + len(values) - 1:
            rows.append(f"{' '.join(row)} // n = ..={n}")
            row = []
    return rows


HEAD = """\
//! Constant tables of the numeric core.
//!
//! Printed by `core/tables.py`, which also checks them against closed forms and published values:
//! change that script, not this file. All entries are unsigned integers; Qm means units of 2^-m.
//! Where a table has three columns they are the coverages 0.90, 0.95 and 0.99, in this order.
//! Entries are rounded to nearest."""

STUDENT_DOC = """
Two-sided Student's t factors k, Q16, no unit: row `nu - 1` for nu = 1..=32 degrees of freedom.

With coverage p, |t| ≤ k has probability p, so the interval of a result y is y ± k·u.

How made: exact quantiles at (1 + p)/2 by inverting the distribution function, checked against
the closed forms at nu = 1, 2 and 4. Source: Student's t distribution; JCGM 100:2008 table G.2
gives it to two decimals, NIST/SEMATECH e-Handbook 1.3.6.7.2 to three.

Error: at most 2^-17, rounding alone; below 0.0005 % of k.
"""

NORMAL_DOC = """
Two-sided normal factors, Q16, no unit: k at infinite degrees of freedom.

How made: exact normal quantiles at (1 + p)/2. Source: JCGM 100:2008 table G.2, last row (1.645,
1.960, 2.576; from memory).

Error: at most 2^-17, rounding alone; below 0.0005 % of k.
"""

SERIES_DOC = """
Coefficients c1, c2, c3 of Student's t factor in 1/nu, Q13, no unit: a row for each coverage.

k = z + c1/nu + c2/nu² + c3/nu³, z from [`NORMAL_K`], for nu ≥ 33, where [`STUDENT_T`] ends.

How made: c1 = (z³ + z)/4, c2 = (5z⁵ + 16z³ + 3z)/96, c3 = (3z⁷ + 19z⁵ + 17z³ − 15z)/384.
Source: Abramowitz & Stegun, Handbook of Mathematical Functions, 26.7.5.

With x = floor(2^20/nu) each product of a Horner step with x fits 32 bits: a step is a product
shifted right by 20, the last one by 17, which gives Q16. k so found never rises with nu, nor
from the last row of [`STUDENT_T`] to nu = 33.

Error: k within {worst:.4f} % of exact for every nu from 33 on.
"""

MEDIAN_DOC = """
Variance factor of the median, Q15, no unit: entry `n - 1` for n = 1..=64 values.

c = n·Var(median)/σ² for independent normal noise, so u²(centre) = c·s²/n. For an even n the median
is the mean of the two middle values. The limit for large n is π/2.

How made: exact, by quadrature over the density of the middle order statistic (odd n) or the joint
density of the two middle ones (even n); checked by the density's own integral, by a finer step and
by the closed form 3 − 3√3/π at n = 3. Source for comparison: the efficiencies 1/c published at
stats.stackexchange.com/questions/468688, n = 3..=16, three decimals.

Error: at most 2^-16, rounding alone.
"""

HL_DOC = """
Variance factor of the Hodges–Lehmann centre, Q15, no unit: entry `n - 1` for n = 1..=64 values.

c = n·Var(centre)/σ² for independent normal noise, so u²(centre) = c·s²/n. The centre is the median
of all n(n + 1)/2 pair means, i ≤ j; where their count is even, the mean of the two middle ones.
The limit for large n is π/3 (Hodges & Lehmann, Annals of Mathematical Statistics 34 (1963) 598).

How made: n = 1 and 2 are 1 exactly, the centre being the mean; n = 3 is 1 + (c_median − 1)/16
exactly. The others are simulated with a fixed seed, {least:,} to {most:,} trials for each n, most
for few values. By Basu's theorem the mean is independent of centre − mean, and (centre − mean)/s is
independent of s, so c = 1 + n·E((centre − mean)²/s²); only the small second term carries noise.
The same simulation at n = 3 agrees with the exact value.

Error: standard error of c at most {near:.5f} up to n = 9 and {far:.5f} up to n = 64; rounding 2^-16.
"""

VN_DOC = """
Lower 0.1 % points of the von Neumann ratio, Q16, no unit: entry `n - 5` for n = 5..=64 values.

Ratio: Σ(x_(i+1) − x_i)² / Σ(x_i − mean)², without further factors; about 2 where there is no trend.
Under independent normal noise it falls below the entry once in 1,000 series.

How made: exact. The ratio lies below v where Σ (4 sin²(πk/2n) − v)·z_k² < 0 over k = 1..n-1 with
independent unit normal z_k; the probability by Imhof's inversion of the characteristic function
(Biometrika 48 (1961) 419), v by root finding. Checked by the closed form at n = 3 and by the 1 %
and 5 % points of Hart (Annals of Mathematical Statistics 13 (1942) 207; from memory), which
divide the two sums by n − 1 and n.

Error: at most 2^-17, rounding alone.
"""

NOISE_DOC = """
99.98 % points of Fisher's F(n − 1, nu), no unit: row `n - 3` for n = 3..=64 touches, columns q in Q12, a in Q11, b in
Q9, c in Q5.

The point is q·(1 + a/nu + b/nu² + c/nu³) for nu ≥ 12. Under independent normal noise s² of n touches is over it times
σ² once in 5,000 series, s of the study with nu degrees of freedom standing for σ.

How made: q exact, −ln 0.0002 at n = 3; a, b, c fitted to exact points so that the largest relative error is least.
Source: the F distribution.

Error: the point within {worst:.2f} % of exact for every nu from 12 on.
"""

FAR_T_DOC = """
Quantiles of Student's t at 0.9995, Q12, no unit: entry `nu - 3` for nu = 3..=32 degrees of freedom.

How made: exact quantiles, checked against printed ones (from memory). Error: at most 2^-13, rounding alone.
"""

FAR_SERIES_DOC = """
The same for nu ≥ 33: the normal's quantile in Q16, then c1, c2, c3 in Q11, as [`T_SERIES`].

Error: within {worst:.4f} % of exact.
"""


def main():
    student, normal, series, series_worst = make_student()
    ratio = [scaled(v, 16) for v in make_von_neumann()]
    median = make_median()
    noise, noise_worst = make_noise()
    far_t, far_series, far_worst = make_far_t()
    parts = [
        HEAD,
        item(STUDENT_DOC, "STUDENT_T", f"[[u32; 3]; {T_ROWS}]", nested(student)),
        item(NORMAL_DOC, "NORMAL_K", "[u32; 3]", [", ".join(map(str, normal)) + ","]),
        # Bounds are rounded up, so that the printed ones hold.
        item(
            SERIES_DOC.format(worst=math.ceil(series_worst * 1e6) / 1e4),
            "T_SERIES",
            "[[u32; 3]; 3]",
            nested(series),
        ),
        item(MEDIAN_DOC, "MEDIAN_FACTOR", f"[u16; {N_MAX}]", flat([scaled(c, 15) for c in median], 1)),
        item(VN_DOC, "VON_NEUMANN_001", f"[u32; {len(ratio)}]", flat(ratio, VN_FIRST)),
        item(
            NOISE_DOC.format(worst=math.ceil(noise_worst * 1e4) / 1e2),
            "NOISE_F",
            f"[[u16; 4]; {len(noise)}]",
            nested(noise),
        ),
        item(FAR_T_DOC, "FAR_T", f"[u16; {len(far_t)}]", flat(far_t, FAR_T_FIRST)),
        item(
            FAR_SERIES_DOC.format(worst=math.ceil(far_worst * 1e6) / 1e4),
            "FAR_T_SERIES",
            "[u32; 4]",
            [", ".join(map(str, far_series)) + ","],
        ),
    ]
    # Last, since it takes minutes.
    pair, near, far = make_hodges_lehmann(median[2])
    least, most = HL_TRIALS
    near, far = (math.ceil(error * 1e5) / 1e5 for error in (near, far))
    parts.append(
        item(
            HL_DOC.format(least=least, most=most, near=near, far=far),
            "HODGES_LEHMANN_FACTOR",
            f"[u16; {N_MAX}]",
            flat([scaled(c, 15) for c in pair], 1),
        )
    )
    sys.stdout.reconfigure(encoding="utf-8")
    print("\n\n".join(parts))


if __name__ == "__main__":
    main()
