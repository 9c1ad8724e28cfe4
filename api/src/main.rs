//! Entry point of `preen-server`: one call.

fn main() {}
