//! Constant tables of the numeric core.
//!
//! Printed by `core/tables.py`, which also checks them against closed forms and published values:
//! change that script, not this file. All entries are unsigned integers; Qm means units of 2^-m.
//! Where a table has three columns they are the coverages 0.90, 0.95 and 0.99, in this order.
//! Entries are rounded to nearest.

/// Two-sided Student's t factors k, Q16, no unit: row `nu - 1` for nu = 1..=32 degrees of freedom.
///
/// With coverage p, |t| ≤ k has probability p, so the interval of a result y is y ± k·u.
///
/// How made: exact quantiles at (1 + p)/2 by inverting the distribution function, checked against
/// the closed forms at nu = 1, 2 and 4. Source: Student's t distribution; JCGM 100:2008 table G.2
/// gives it to two decimals, NIST/SEMATECH e-Handbook 1.3.6.7.2 to three.
///
/// Error: at most 2^-17, rounding alone; below 0.0005 % of k.
#[rustfmt::skip]
pub(crate) static STUDENT_T: [[u32; 3]; 32] = [
    [413778, 832714, 4171808],
    [191364, 281979, 650435],
    [154230, 208565, 382790],
    [139713, 181957, 301734],
    [132058, 168466, 264251],
    [127348, 160361, 242970],
    [124163, 154968, 229342],
    [121867, 151126, 219899],
    [120135, 148253, 212981],
    [118781, 146023, 207701],
    [117695, 144244, 203542],
    [116804, 142791, 200182],
    [116060, 141582, 197413],
    [115429, 140561, 195090],
    [114888, 139687, 193116],
    [114418, 138930, 191416],
    [114007, 138269, 189938],
    [113644, 137686, 188641],
    [113320, 137168, 187494],
    [113031, 136706, 186472],
    [112771, 136290, 185556],
    [112535, 135913, 184730],
    [112320, 135572, 183982],
    [112124, 135260, 183300],
    [111945, 134974, 182677],
    [111779, 134711, 182106],
    [111627, 134469, 181579],
    [111485, 134244, 181093],
    [111354, 134036, 180643],
    [111232, 133842, 180224],
    [111118, 133662, 179834],
    [111011, 133492, 179469],
];

/// Two-sided normal factors, Q16, no unit: k at infinite degrees of freedom.
///
/// How made: exact normal quantiles at (1 + p)/2. Source: JCGM 100:2008 table G.2, last row (1.645,
/// 1.960, 2.576; from memory).
///
/// Error: at most 2^-17, rounding alone; below 0.0005 % of k.
#[rustfmt::skip]
pub(crate) static NORMAL_K: [u32; 3] = [
    107797, 128448, 168810,
];

/// Coefficients c1, c2, c3 of Student's t factor in 1/nu, Q13, no unit: a row for each coverage.
///
/// k = z + c1/nu + c2/nu² + c3/nu³, z from [`NORMAL_K`], for nu ≥ 33, where [`STUDENT_T`] ends.
///
/// How made: c1 = (z³ + z)/4, c2 = (5z⁵ + 16z³ + 3z)/96, c3 = (3z⁷ + 19z⁵ + 17z³ − 15z)/384.
/// Source: Abramowitz & Stegun, Handbook of Mathematical Functions, 26.7.5.
///
/// With x = floor(2^20/nu) each product of a Horner step with x fits 32 bits: a step is a product
/// shifted right by 20, the last one by 17, which gives Q16. k so found never rises with nu, nor
/// from the last row of [`STUDENT_T`] to nu = 33.
///
/// Error: k within 0.0012 % of exact for every nu from 33 on.
#[rustfmt::skip]
pub(crate) static T_SERIES: [[u32; 3]; 3] = [
    [12483, 11634, 8053],
    [19434, 23122, 20938],
    [40276, 72374, 99486],
];

/// Variance factor of the median, Q15, no unit: entry `n - 1` for n = 1..=64 values.
///
/// c = n·Var(median)/σ² for independent normal noise, so u²(centre) = c·s²/n. For an even n the
/// median is the mean of the two middle values. The limit for large n is π/2.
///
/// How made: exact, by quadrature over the density of the middle order statistic (odd n) or the
/// joint density of the two middle ones (even n); checked by the density's own integral, by a finer
/// step and by the closed form 3 − 3√3/π at n = 3. Source for comparison: the efficiencies 1/c
/// published at stats.stackexchange.com/questions/468688, n = 3..=16, three decimals.
///
/// Error: at most 2^-16, rounding alone.
#[rustfmt::skip]
pub(crate) static MEDIAN_FACTOR: [u16; 64] = [
    32768, 32768, 44106, 39086, 46995, 42220, 48271, 44088, 48985, 45327, // n = ..=10
    49440, 46209, 49755, 46870, 49985, 47383, 50161, 47793, 50300, 48128, // n = ..=20
    50412, 48407, 50505, 48643, 50583, 48845, 50649, 49020, 50706, 49174, // n = ..=30
    50755, 49309, 50799, 49429, 50838, 49537, 50872, 49634, 50903, 49721, // n = ..=40
    50931, 49801, 50956, 49873, 50979, 49940, 51000, 50001, 51019, 50058, // n = ..=50
    51037, 50110, 51054, 50159, 51069, 50204, 51083, 50246, 51096, 50286, // n = ..=60
    51109, 50323, 51120, 50358, // n = ..=64
];

/// Lower 0.1 % points of the von Neumann ratio, Q16, no unit: entry `n - 5` for n = 5..=64 values.
///
/// Ratio: Σ(x_(i+1) − x_i)² / Σ(x_i − mean)², without further factors; about 2 where there is no
/// trend. Under independent normal noise it falls below the entry once in 1,000 series.
///
/// How made: exact. The ratio lies below v where Σ (4 sin²(πk/2n) − v)·z_k² < 0 over k = 1..n-1
/// with independent unit normal z_k; the probability by Imhof's inversion of the characteristic
/// function (Biometrika 48 (1961) 419), v by root finding. Checked by the closed form at n = 3 and
/// by the 1 % and 5 % points of Hart (Annals of Mathematical Statistics 13 (1942) 207; from
/// memory), which divide the two sums by n − 1 and n.
///
/// Error: at most 2^-17, rounding alone.
#[rustfmt::skip]
pub(crate) static VON_NEUMANN_001: [u32; 60] = [
    27268, 23793, 24196, 26279, 28924, 31550, // n = ..=10
    34026, 36410, 38681, 40826, 42852, 44766, 46573, 48281, 49897, 51429, // n = ..=20
    52882, 54262, 55575, 56825, 58018, 59156, 60245, 61287, 62286, 63243, // n = ..=30
    64163, 65047, 65898, 66717, 67506, 68268, 69003, 69713, 70400, 71064, // n = ..=40
    71708, 72331, 72935, 73521, 74090, 74643, 75180, 75702, 76210, 76704, // n = ..=50
    77185, 77653, 78110, 78555, 78990, 79413, 79827, 80231, 80625, 81011, // n = ..=60
    81388, 81756, 82117, 82469, // n = ..=64
];

/// 99.98 % points of Fisher's F(n − 1, nu), no unit: row `n - 3` for n = 3..=64 touches, columns q
/// in Q12, a in Q11, b in Q9, c in Q5.
///
/// The point is q·(1 + a/nu + b/nu² + c/nu³) for nu ≥ 12. Under independent normal noise s² of n
/// touches is over it times σ² once in 5,000 series, s of the study with nu degrees of freedom
/// standing for σ.
///
/// How made: q exact, −ln 0.0002 at n = 3; a, b, c fitted to exact points so that the largest
/// relative error is least. Source: the F distribution.
///
/// Error: the point within 0.09 % of exact for every nu from 12 on.
#[rustfmt::skip]
pub(crate) static NOISE_F: [[u16; 4]; 62] = [
    [34886, 17649, 20861, 11430],
    [26837, 19355, 23806, 13820],
    [22533, 20772, 26254, 15776],
    [19813, 22011, 28371, 17444],
    [17920, 23128, 30240, 18902],
    [16517, 24151, 31908, 20200],
    [15430, 25102, 33407, 21373],
    [14559, 25994, 34760, 22444],
    [13843, 26836, 35983, 23432],
    [13242, 27636, 37091, 24351],
    [12730, 28400, 38093, 25213],
    [12288, 29132, 39000, 26026],
    [11901, 29835, 39819, 26797],
    [11559, 30513, 40558, 27533],
    [11254, 31168, 41223, 28237],
    [10980, 31801, 41820, 28915],
    [10733, 32416, 42353, 29569],
    [10509, 33013, 42827, 30202],
    [10303, 33594, 43246, 30816],
    [10115, 34159, 43613, 31415],
    [9941, 34711, 43933, 31999],
    [9781, 35249, 44208, 32569],
    [9631, 35774, 44440, 33128],
    [9492, 36288, 44633, 33677],
    [9362, 36791, 44789, 34216],
    [9241, 37284, 44910, 34746],
    [9126, 37766, 44998, 35268],
    [9019, 38239, 45055, 35783],
    [8917, 38703, 45083, 36291],
    [8821, 39158, 45083, 36793],
    [8731, 39605, 45057, 37289],
    [8644, 40045, 45006, 37780],
    [8562, 40477, 44932, 38266],
    [8485, 40901, 44837, 38747],
    [8410, 41318, 44723, 39223],
    [8339, 41729, 44591, 39693],
    [8271, 42133, 44442, 40159],
    [8207, 42531, 44275, 40621],
    [8144, 42922, 44092, 41080],
    [8085, 43308, 43894, 41534],
    [8028, 43689, 43680, 41986],
    [7973, 44063, 43453, 42433],
    [7920, 44433, 43213, 42878],
    [7869, 44798, 42960, 43320],
    [7820, 45158, 42694, 43759],
    [7772, 45512, 42421, 44194],
    [7727, 45861, 42146, 44621],
    [7682, 46206, 41862, 45044],
    [7640, 46546, 41568, 45465],
    [7598, 46881, 41267, 45882],
    [7558, 47213, 40956, 46298],
    [7520, 47541, 40630, 46714],
    [7482, 47864, 40310, 47121],
    [7446, 48182, 39988, 47523],
    [7410, 48496, 39662, 47921],
    [7376, 48807, 39329, 48316],
    [7343, 49114, 38990, 48709],
    [7311, 49417, 38652, 49096],
    [7279, 49715, 38323, 49474],
    [7248, 50009, 37990, 49849],
    [7219, 50300, 37654, 50220],
    [7190, 50588, 37315, 50588],
];

/// Quantiles of Student's t at 0.9995, Q12, no unit: entry `nu - 3` for nu = 3..=32 degrees of
/// freedom.
///
/// How made: exact quantiles, checked against printed ones (from memory). Error: at most 2^-13,
/// rounding alone.
#[rustfmt::skip]
pub(crate) static FAR_T: [u16; 30] = [
    52937, 35268, 28135, 24407, 22151, 20649, 19583, 18788, // n = ..=10
    18174, 17686, 17289, 16959, 16682, 16445, 16241, 16063, 15906, 15768, // n = ..=20
    15644, 15533, 15432, 15341, 15258, 15182, 15113, 15048, 14989, 14934, // n = ..=30
    14883, 14835, // n = ..=32
];

/// The same for nu ≥ 33: the normal's quantile in Q16, then c1, c2, c3 in Q11, as [`T_SERIES`].
///
/// Error: within 0.0025 % of exact.
#[rustfmt::skip]
pub(crate) static FAR_T_SERIES: [u32; 4] = [
    215648, 19926, 53520, 108889,
];

/// Variance factor of the Hodges–Lehmann centre, Q15, no unit: entry `n - 1` for n = 1..=64 values.
///
/// c = n·Var(centre)/σ² for independent normal noise, so u²(centre) = c·s²/n. The centre is the
/// median of all n(n + 1)/2 pair means, i ≤ j; where their count is even, the mean of the two
/// middle ones. The limit for large n is π/3 (Hodges & Lehmann, Annals of Mathematical Statistics
/// 34 (1963) 598).
///
/// How made: n = 1 and 2 are 1 exactly, the centre being the mean; n = 3 is 1 + (c_median − 1)/16
/// exactly. The others are simulated with a fixed seed, 150,000 to 2,000,000 trials for each n,
/// most for few values. By Basu's theorem the mean is independent of centre − mean, and (centre −
/// mean)/s is independent of s, so c = 1 + n·E((centre − mean)²/s²); only the small second term
/// carries noise. The same simulation at n = 3 agrees with the exact value.
///
/// Error: standard error of c at most 0.00013 up to n = 9 and 0.00022 up to n = 64; rounding 2^-16.
#[rustfmt::skip]
pub(crate) static HODGES_LEHMANN_FACTOR: [u16; 64] = [
    32768, 32768, 33477, 35877, 35257, 35238, 35443, 35154, 35215, 35196, // n = ..=10
    35049, 34998, 35000, 34962, 34898, 34866, 34859, 34825, 34791, 34771, // n = ..=20
    34766, 34736, 34714, 34702, 34693, 34681, 34665, 34653, 34642, 34634, // n = ..=30
    34617, 34615, 34614, 34599, 34595, 34576, 34571, 34572, 34555, 34544, // n = ..=40
    34546, 34540, 34532, 34529, 34528, 34531, 34526, 34509, 34519, 34520, // n = ..=50
    34509, 34500, 34504, 34498, 34485, 34492, 34482, 34494, 34473, 34490, // n = ..=60
    34480, 34468, 34469, 34468, // n = ..=64
];
