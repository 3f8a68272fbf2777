use super::*;

#[test]
fn bins_follow_on_each_other_and_hold_what_falls_into_them() {
    let mut before = ends_of(0).0;
    assert_eq!(before, -REACH);
    for bin in 0..2 * HALF {
        let (low, high) = ends_of(bin);
        assert!(low == before && high > low, "bin {bin}: {low} to {high} after {before}");
        assert_eq!(bin_of(middle_of(bin)), bin);
        // An end belongs to the bin further from zero.
        let near = if low < 0.0 { high } else { low };
        let far = if low < 0.0 { low.next_up() } else { high.next_down() };
        assert_eq!(bin_of(far), bin);
        assert!(near == 0.0 || bin_of(near) == bin);
        let half = (high - low) / 2.0;
        assert!(half <= 0.96e-6 || half <= middle_of(bin).abs() / 16_384.0, "bin {bin}: {low} to {high}");
        assert!(half <= 0.96e-6 || middle_of(bin).abs() > 0.031, "bin {bin}: {low} to {high}");
        before = high;
    }
    assert_eq!(before, REACH);
}

#[test]
fn what_is_out_of_reach_counts_as_the_end() {
    for (error, bin) in [(f64::MAX, 2 * HALF - 1), (f64::MIN, 0), (REACH, 2 * HALF - 1), (-1e9, 0)] {
        assert_eq!(bin_of(error), bin);
    }
    assert_eq!((bin_of(0.0), bin_of(-0.0), bin_of(-1e-12)), (HALF, HALF, HALF - 1));
}

/// The width of a narrow bin, mm; the middle of the n-th from zero is n + ½ of them.
const W: f64 = 1.0 / 524_288.0;

fn of(errors: impl IntoIterator<Item = f64>) -> Histogram {
    let mut all = Histogram::default();
    errors.into_iter().for_each(|error| all.add(error));
    all
}

/// One in each of the first bins.
fn in_a_row(count: u32) -> Histogram {
    of((0..count).map(|n| (f64::from(n) + 0.5) * W))
}

#[test]
fn of_nothing_nothing_is_known() {
    let none = Histogram::default();
    assert_eq!((none.total(), none.extremes(), none.quantile(0.5)), (0, None, None));
    assert_eq!((none.columns(-1.0, 1.0, 2), none.below(1.0)), (vec![0, 0], 0));
}

/// The r-th of a hundred stands at r − ½ widths; its error is half of what lies between the ranks r ±
/// √(100·p·(1 − p)), rounded.
#[test]
fn quantiles_of_a_hundred_by_hand() {
    let all = in_a_row(100);
    for (p, rank, error) in [
        (0.5, 50.0, Some(5.0)),
        (0.9, 90.0, Some(3.0)),
        (0.2, 20.0, Some(4.0)),
        // Ranks 1 and 3, 98 and 100.
        (0.02, 2.0, Some(1.0)),
        (0.99, 99.0, Some(1.0)),
        // None and 2; 99 and 101.
        (0.01, 1.0, None),
        (0.996, 100.0, None),
        // The same one on both sides.
        (0.001, 1.0, None),
        (0.0, 1.0, None),
        (1.0, 100.0, None),
    ] {
        let due = Quantile { value: (rank - 0.5) * W, bound: W / 2.0, error: error.map(|ranks| ranks * W) };
        assert_eq!(all.quantile(p), Some(due), "{p}");
    }
}

#[test]
fn many_in_a_bin_share_its_middle() {
    let two_heaps = of([0.5 * W; 10].into_iter().chain([-5.5 * W; 10]));
    let values = [0.5, 0.51, 1.0].map(|p| two_heaps.quantile(p).expect("some").value / W);
    assert_eq!(values, [-5.5, 0.5, 0.5]);
    // Never beyond the ends, and half a bin is 16 of the narrow ones at half a mm.
    let one = of([0.5 + 0.25 * W]).quantile(0.5).expect("one");
    assert_eq!((one.value, one.bound), (0.5 + 0.25 * W, 16.0 * W));
    let (high, low) = (of([0.75 * W]), of([0.25 * W]));
    assert_eq!([high, low].map(|one| one.quantile(0.5).expect("one").value / W), [0.75, 0.25]);
}

#[test]
fn half_a_bin_is_known_anywhere() {
    let none = Histogram::default();
    assert_eq!([0.0, 3.0 * W, -0.01, 0.5, -1.0].map(|x| none.bound_at(x) / W), [0.5, 0.5, 0.5, 16.0, 32.0]);
}

/// About ½: twice 3 off, once −4. Σx²/n = (2·9 + 16)/3, Σx⁴/n = (2·81 + 256)/3.
#[test]
fn moments_are_those_of_the_middles() {
    let (second, fourth) = of([3.5 * W, 3.5 * W, -3.5 * W]).moments(0.5 * W);
    assert!((second / (W * W) - 34.0 / 3.0).abs() < 1e-9, "{second}");
    assert!((fourth / (W * W * W * W) - 418.0 / 3.0).abs() < 1e-9, "{fourth}");
}

#[test]
fn columns_hold_what_lies_in_them() {
    // From −6½ to 5½ widths; four columns of two from −4 on.
    let all = of((-6..7).map(|n| (f64::from(n) - 0.5) * W));
    assert_eq!(all.columns(-4.0 * W, 4.0 * W, 4), [2, 2, 2, 2]);
    assert_eq!(all.columns(2.0 * W, 8.0 * W, 3), [2, 2, 0]);
    let heap = of([0.5 * W; 3]);
    assert_eq!(heap.columns(0.0, 2.0 * W, 2), [3, 0]);
}

#[test]
fn what_lies_below_stops_short_of_its_own_bin() {
    let all = in_a_row(6);
    assert_eq!([-1.0, 0.5, 2.5, 2.6, 9.0].map(|x| all.below(x * W)), [0, 0, 2, 3, 6]);
}

#[test]
fn merged_is_as_if_counted_at_once() {
    let (mut left, right) = (of([-3.5 * W, 2.5 * W]), of([-7.5 * W, 2.5 * W, 0.5, 0.5]));
    left.merge(&right);
    assert_eq!((left.total(), left.extremes()), (6, Some((-7.5 * W, 0.5))));
    let bins: Vec<_> = left.bins().collect();
    assert_eq!(bins, [(HALF - 8, 1), (HALF - 4, 1), (HALF + 2, 2), (bin_of(0.5), 2)]);
    left.merge(&Histogram::default());
    assert_eq!((left.total(), left.extremes()), (6, Some((-7.5 * W, 0.5))));
    let mut none = Histogram::default();
    none.merge(&right);
    assert_eq!((none.total(), none.extremes()), (4, Some((-7.5 * W, 0.5))));
    assert_eq!(none.bins().count(), 3);
}
