// E0308
fn main() {
    let _ = zdatum::Length::ZERO.plus(zdatum::Speed::ZERO);
}
