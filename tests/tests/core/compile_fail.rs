//! What must not compile: each file of `tests/compile_fail` with the compiler's words beside it.
//!
//! After a new compiler has changed its words: `TRYBUILD=overwrite cargo test -p zdatum-tests --test core compile_fail`, and read
//! what it wrote.

#[test]
fn mixed_up_units_and_unchecked_setups_do_not_compile() {
    trybuild::TestCases::new().compile_fail("tests/compile_fail/*.rs");
}
