//! Entry point of `preen`: one call.

fn main() {}
