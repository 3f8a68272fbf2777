fn main() {
    let _: zdatum::Length = zdatum::Latency::ZERO;
}
