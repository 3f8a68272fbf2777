// E0308
fn main() {
    let _: zdatum::Length = zdatum::Latency::ZERO;
}
