//! A test program as the command line, so that one of its own kind can be started and killed.

use std::io::IsTerminal as _;
use std::process::ExitCode;

/// Is `preen`, with the arguments that follow the word by which the program was told so.
pub fn be_preen() -> ExitCode {
    let mut io = preen_cli::Io {
        stdin: &mut std::io::stdin(),
        read_hidden: &mut || Ok(String::new()),
        stdout: &mut std::io::stdout(),
        stderr: &mut std::io::stderr(),
        is_stdin_terminal: std::io::stdin().is_terminal(),
        is_stdout_terminal: false,
        is_stderr_terminal: false,
        width: None,
        env: std::env::vars().collect(),
        now: &mut || preen_api::state::Clock::System.now(),
        new_id: &mut uuid::Uuid::now_v7,
    };
    ExitCode::from(preen_cli::run(std::env::args_os().skip(2), &mut io))
}
