//! stillhand
fn main() {}
