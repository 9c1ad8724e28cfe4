//! Entry point of `preen`: hands the process's streams, environment and arguments over, once.

use std::io::IsTerminal;
use std::process::ExitCode;

fn main() -> ExitCode {
    let stderr = std::io::stderr();
    let mut io = preen_cli::Io {
        is_stdin_terminal: std::io::stdin().is_terminal(),
        is_stdout_terminal: std::io::stdout().is_terminal(),
        is_stderr_terminal: stderr.is_terminal(),
        width: terminal_size::terminal_size().map(|(width, _)| usize::from(width.0)),
        stdin: &mut std::io::stdin(),
        read_hidden: &mut rpassword::read_password,
        stdout: &mut std::io::stdout(),
        stderr: &mut std::io::stderr(),
        env: std::env::vars_os()
            .filter_map(|(name, value)| Some((name.into_string().ok()?, value.into_string().ok()?)))
            .collect(),
        now: &mut now,
        new_id: &mut uuid::Uuid::now_v7,
    };
    ExitCode::from(preen_cli::run(std::env::args_os().skip(1), &mut io))
}

#[expect(
    clippy::disallowed_methods,
    reason = "the one place of the program where the clock of this machine is read"
)]
fn now() -> preen_domain::time::Instant {
    chrono::Utc::now().into()
}
