//! Entry point of `preen-server`: one call, and what gives memory.

use std::process::ExitCode;

/// The usual one gives each thread a heap of its own; what one thread takes and another gives back leaves holes in all of
/// them, and the service grew by some megabytes a minute.
#[global_allocator]
static ALLOCATOR: tikv_jemallocator::Jemalloc = tikv_jemallocator::Jemalloc;

fn main() -> ExitCode {
    preen_api::commands::run()
}
