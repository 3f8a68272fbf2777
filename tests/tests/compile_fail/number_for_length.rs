// E0308
fn main() {
    let _: zdatum::Length = 0.5;
}
