fn main() {
    let _: zdatum::Uncertainty = zdatum::Length::ZERO;
}
