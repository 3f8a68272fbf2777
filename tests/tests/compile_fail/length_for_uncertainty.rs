// E0308
fn main() {
    let _: zdatum::Uncertainty = zdatum::Length::ZERO;
}
