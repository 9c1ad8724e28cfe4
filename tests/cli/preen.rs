//! Runs the program in this process, and compares what it says with what is expected.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use preen_domain::time::Instant;
use serde_json::Value;
use uuid::Uuid;

/// The program with its surroundings.
#[derive(Clone, Debug, Default)]
pub struct Preen {
    env: BTreeMap<String, String>,
    input: String,
    hidden: Vec<String>,
    is_terminal: bool,
    width: Option<usize>,
    clock: Option<Instant>,
}

/// What came of a run.
#[derive(Clone, Debug)]
pub struct Said {
    /// Data.
    pub stdout: String,
    /// Talk.
    pub stderr: String,
    /// Exit code.
    pub code: u8,
}

impl Preen {
    /// With an address and a token in the environment.
    pub fn at(url: &str, token: &str) -> Self {
        Self::default().env("PREEN_URL", url).env("PREEN_TOKEN", token)
    }

    /// The same with another variable.
    #[must_use]
    pub fn env(mut self, name: &str, value: impl Into<String>) -> Self {
        self.env.insert(name.to_owned(), value.into());
        self
    }

    /// The same with something to read.
    #[must_use]
    pub fn input(mut self, text: &str) -> Self {
        text.clone_into(&mut self.input);
        self
    }

    /// The same with lines to type where they are not shown.
    #[must_use]
    pub fn types(mut self, lines: &[&str]) -> Self {
        self.hidden = lines.iter().map(|line| (*line).to_owned()).collect();
        self
    }

    /// The same at a terminal of so many columns.
    #[must_use]
    pub fn terminal(mut self, width: usize) -> Self {
        self.is_terminal = true;
        self.width = Some(width);
        self
    }

    /// The same on a machine whose clock reads this.
    #[must_use]
    pub fn clock(mut self, reads: &str) -> Self {
        self.clock = Some(reads.parse().unwrap());
        self
    }

    /// Runs it; arguments are separated by spaces, those with a space in them stand in `'…'`.
    #[track_caller]
    pub fn run(&self, line: &str) -> Said {
        let mut args: Vec<String> = Vec::new();
        for (index, part) in line.split('\'').enumerate() {
            if index % 2 == 1 {
                args.push(part.to_owned());
            } else {
                args.extend(part.split_whitespace().map(ToOwned::to_owned));
            }
        }
        self.run_args(&args)
    }

    /// Runs it with arguments as they are.
    pub fn run_args(&self, args: &[String]) -> Said {
        let (mut stdout, mut stderr) = (Vec::new(), Vec::new());
        let mut hidden = self.hidden.iter();
        let code = preen_cli::run(
            args.iter().map(Into::into),
            &mut preen_cli::Io {
                stdin: &mut self.input.as_bytes(),
                read_hidden: &mut || {
                    hidden.next().cloned().ok_or_else(|| std::io::Error::other("nobody types"))
                },
                stdout: &mut stdout,
                stderr: &mut stderr,
                is_stdin_terminal: self.is_terminal,
                is_stdout_terminal: self.is_terminal,
                is_stderr_terminal: self.is_terminal,
                width: self.width,
                env: self.env.clone(),
                now: &mut || self.clock.unwrap_or_else(|| preen_api::state::Clock::System.now()),
                new_id: &mut Uuid::now_v7,
            },
        );
        Said { stdout: String::from_utf8(stdout).unwrap(), stderr: String::from_utf8(stderr).unwrap(), code }
    }

    /// Runs it with `--json` and reads what it printed.
    #[track_caller]
    pub fn json(&self, line: &str) -> Value {
        let said = self.run(&format!("{line} --json"));
        serde_json::from_str(&said.stdout)
            .unwrap_or_else(|error| panic!("{error} in {line}: {}\n{}", said.stdout, said.stderr))
    }
}

impl Said {
    /// What was said, which must have ended with this code.
    #[track_caller]
    pub fn code(self, code: u8) -> Self {
        assert_eq!(self.code, code, "{}\n{}", self.stdout, self.stderr);
        self
    }

    /// What was said, which must hold this text among the data.
    #[track_caller]
    pub fn shows(self, text: &str) -> Self {
        assert!(self.stdout.contains(text), "`{text}` is not shown in:\n{}\n{}", self.stdout, self.stderr);
        self
    }

    /// What was said, which must hold this text among the talk.
    #[track_caller]
    pub fn talks(self, text: &str) -> Self {
        assert!(self.stderr.contains(text), "`{text}` is not said in:\n{}\n{}", self.stderr, self.stdout);
        self
    }

    /// Compares all of it with the expected text of a name.
    #[track_caller]
    pub fn is_as_expected(&self, name: &str) {
        let text = format!("{}---- stderr\n{}---- exit {}\n", self.stdout, self.stderr, self.code);
        is_as_expected(name, &text);
    }
}

/// The text without the numbers of revisions: many facts are recorded at once, in an order that is not told.
fn without_revisions(text: &str) -> String {
    let mut parts = text.split("revision ");
    let mut plain = parts.next().unwrap_or_default().to_owned();
    for part in parts {
        plain.push_str("revision ");
        let rest = part.trim_start_matches(' ').trim_start_matches(|c: char| c.is_ascii_digit());
        if rest.len() < part.len() {
            plain.push('#');
        }
        plain.push_str(rest);
    }
    plain
}

/// Compares a text with the expected one of a name.
#[track_caller]
pub fn is_as_expected(name: &str, text: &str) {
    let text = without_revisions(text);
    let path: PathBuf =
        Path::new(env!("CARGO_MANIFEST_DIR")).join("cli").join("expected").join(format!("{name}.txt"));
    if std::env::var_os("PREEN_WRITE_EXPECTED").is_some() {
        std::fs::write(&path, &text).unwrap();
    }
    let expected = std::fs::read_to_string(&path).unwrap_or_default();
    assert!(expected == text, "{name} differs.\n==== expected\n{expected}\n==== said\n{text}");
}
