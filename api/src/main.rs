//! Entry point of `preen-server`: one call.

use std::process::ExitCode;

fn main() -> ExitCode {
    preen_api::commands::run()
}
