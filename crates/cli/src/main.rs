//! The rubstone command.
fn main() {}
