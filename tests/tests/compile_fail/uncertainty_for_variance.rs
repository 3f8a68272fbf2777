// E0308
fn main() {
    let _: zdatum::Variance = zdatum::Uncertainty::ZERO;
}
