//! The tables of variance factors and of von Neumann's points.

use zdatum::series::{Method, variance_factor};
use zdatum::{Centre, Variance};
use zdatum_tests::case::series_of;

fn factor(centre: Centre, n: usize) -> f64 {
    f64::from(variance_factor(centre, n)) / 32_768.0
}

fn density(x: f64) -> f64 {
    (-x * x / 2.0).exp() / (2.0 * std::f64::consts::PI).sqrt()
}

/// The normal's distribution function on a grid of step `h` from −9, by Simpson's rule.
fn distribution(h: f64, points: usize) -> Vec<f64> {
    let mut sum = 0.0;
    let mut all = vec![0.0];
    for i in 0..points {
        let x = -9.0 + h * i as f64;
        sum += h / 6.0 * (density(x) + 4.0 * density(x + h / 2.0) + density(x + h));
        all.push(sum);
    }
    all
}

fn ln_factorial(n: usize) -> f64 {
    (1..=n).map(|k| (k as f64).ln()).sum()
}

/// n·Var(median) of n normal values. The double integral's edge costs h²: two steps take it out.
fn median_variance(n: usize) -> f64 {
    let fine = median_quadrature(n, 64);
    if n % 2 == 1 { fine } else { (4.0 * fine - median_quadrature(n, 32)) / 3.0 }
}

/// By the trapezoid rule over the density of the middle value, or of the middle two, `per_unit` points for
/// each σ.
fn median_quadrature(n: usize, per_unit: usize) -> f64 {
    let h = 1.0 / per_unit as f64;
    let m = n.div_ceil(2) - 1;
    let scale = ln_factorial(n) - 2.0 * ln_factorial(m);
    // x, ln(φ·F^m), ln(φ·(1 − F)^m), within ±6.5.
    let points: Vec<(f64, f64, f64)> = distribution(h, 18 * per_unit)
        .into_iter()
        .enumerate()
        .map(|(i, f)| (-9.0 + h * i as f64, f.max(1e-300), (1.0 - f).max(1e-300)))
        .filter(|(x, ..)| x.abs() <= 6.5)
        .map(|(x, f, g)| (x, density(x).ln() + m as f64 * f.ln(), density(x).ln() + m as f64 * g.ln()))
        .collect();
    let mut total = 0.0;
    for (i, (x, below, above)) in points.iter().enumerate() {
        if n % 2 == 1 {
            total += h * x * x * (scale + below + above).exp() / density(*x);
            continue;
        }
        // Middle two at x ≤ y: n!/(m!²)·F(x)^m·(1 − F(y))^m·φ(x)·φ(y); the median is (x + y)/2. Half weight
        // on x = y.
        total += 0.5 * h * h * x * x * (scale + below + above).exp();
        for (y, _, above) in &points[i + 1..] {
            let middle = (x + y) / 2.0;
            total += h * h * middle * middle * (scale + below + above).exp();
        }
    }
    total * n as f64
}

#[test]
fn the_median_factor_is_that_of_its_order_statistics() {
    for n in 1..=64 {
        let exact = median_variance(n);
        let seen = factor(Centre::Median, n);
        // The two steps no longer resolve the narrow gap of the middle two for many values.
        let within = if n > 40 { 2e-4 } else { 3e-5 };
        assert!((seen / exact - 1.0).abs() < within, "n = {n}: {seen} against {exact}");
    }
    // The closed form at three: 3 − 3√3/π.
    let three = 3.0 - 3.0 * 3.0_f64.sqrt() / std::f64::consts::PI;
    assert!((factor(Centre::Median, 3) - three).abs() < 1.6e-5);
}

/// Efficiencies of the median, n = 3 to 16, as published at stats.stackexchange.com/questions/468688.
#[test]
fn the_median_factor_is_the_reciprocal_of_published_efficiencies() {
    let published =
        [0.743, 0.838, 0.697, 0.776, 0.679, 0.743, 0.669, 0.723, 0.663, 0.709, 0.659, 0.699, 0.656, 0.692];
    for (n, efficiency) in (3..).zip(published) {
        assert!((1.0 / factor(Centre::Median, n) - efficiency).abs() < 5.5e-4, "n = {n}");
    }
}

/// Hodges–Lehmann: one and two values are their mean; at three c = 1 + (c_median − 1)/16; then a few per
/// cent, falling to π/3.
#[test]
fn the_factor_of_hodges_and_lehmann() {
    let of = |n| factor(Centre::HodgesLehmann, n);
    assert_eq!((of(1), of(2)), (1.0, 1.0));
    assert!((of(3) - 1.0 - (median_variance(3) - 1.0) / 16.0).abs() < 3e-5);
    let limit = std::f64::consts::PI / 3.0;
    for n in 4..=64 {
        assert!(of(n) < 1.10 && of(n) > limit, "n = {n}: {}", of(n));
    }
    assert!((of(64) - limit).abs() < 0.01);
    for (n, known) in [(3, 1.022), (5, 1.075), (9, 1.076)] {
        assert!((of(n) - known).abs() < 0.0015, "n = {n}");
    }
}

/// The Hodges–Lehmann factor counted: by Basu's theorem c = 1 + n·E((centre − mean)²/s²), of which only the
/// second part is noisy.
#[test]
fn the_factor_of_hodges_and_lehmann_counted() {
    let mut state = 0x1234_5678_9ABC_DEF1_u64;
    let mut uniform = || {
        state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        ((state >> 11) as f64 + 0.5) / (1_u64 << 53) as f64
    };
    for n in [4_usize, 5, 9, 16] {
        let trials = 3_000;
        let mut sum = 0.0;
        for _ in 0..trials {
            let z: Vec<i64> = (0..n)
                .map(|_| {
                    let (a, b) = (uniform(), uniform());
                    let normal = (-2.0 * a.ln()).sqrt() * (2.0 * std::f64::consts::PI * b).cos();
                    (normal * 20_000.0).round() as i64
                })
                .collect();
            let series = series_of(&z);
            let centre = |which| series.centre(which).expect("near").expect("not empty").to_f64();
            let summary = series.close(&method(Centre::Mean)).expect("closed");
            let s = summary.s().expect("held").expect("two").to_f64();
            sum += ((centre(Centre::HodgesLehmann) - centre(Centre::Mean)) / s).powi(2);
        }
        let counted = 1.0 + n as f64 * sum / f64::from(trials);
        let seen = factor(Centre::HodgesLehmann, n);
        assert!((seen - counted).abs() < 0.010, "n = {n}: {seen} against {counted} counted");
    }
}

/// The mean's factor is one; a count without an entry gets one too, and so does none.
#[test]
fn factors_outside_the_tables() {
    for n in [0, 1, 2, 64, 65, 1_000] {
        assert_eq!(variance_factor(Centre::Mean, n), 1 << 15);
    }
    for centre in [Centre::Median, Centre::HodgesLehmann] {
        assert_eq!((variance_factor(centre, 0), variance_factor(centre, 65)), (1 << 15, 1 << 15));
    }
}

fn method(centre: Centre) -> Method {
    Method { centre, pooled: None, floor: Variance::ZERO }
}

/// Lower 0.1 % points of von Neumann's ratio Σ(zᵢ₊₁ − zᵢ)²/Σ(zᵢ − z̄)², exact by Imhof's inversion, n = 5 to
/// 30.
#[test]
fn points_of_von_neumanns_ratio() {
    let points = [
        0.41608, 0.36305, 0.36920, 0.40098, 0.44135, 0.48141, 0.51920, 0.55557, 0.59023, 0.62296, 0.65388,
        0.68307, 0.71064, 0.73671, 0.76137, 0.78474, 0.80691, 0.82797, 0.84800, 0.86708, 0.88528, 0.90266,
        0.91927, 0.93517, 0.95040, 0.96502,
    ];
    let limit = |n: i64| {
        let line: Vec<i64> = (0..n).map(|i| i * 10).collect();
        let (seen, limit) = series_of(&line)
            .close(&method(Centre::Mean))
            .expect("closed")
            .walks_by_ratio()
            .expect("a straight line walks");
        // A straight line: (n − 1)/(n·(n² − 1)/12) = 12/(n·(n + 1)).
        let right = 12.0 / (n * (n + 1)) as f64;
        assert!((f64::from(seen.to_bits()) / 65_536.0 - right).abs() < 1e-5);
        f64::from(limit.to_bits()) / 65_536.0
    };
    for (n, point) in (5..).zip(points) {
        assert!((limit(n) - point).abs() < 2e-5, "n = {n}: {} against {point}", limit(n));
    }
    for n in 30..64 {
        assert!(limit(n) < limit(n + 1) && limit(n + 1) < 2.0, "rises towards 2 with n: {n}");
    }
}
