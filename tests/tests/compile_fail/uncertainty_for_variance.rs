fn main() {
    let _: zdatum::Variance = zdatum::Uncertainty::ZERO;
}
