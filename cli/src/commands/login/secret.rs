//! Reading what must not be shown.

use std::path::Path;

use crate::Io;
use crate::failure::Failure;
use crate::output::ask;

/// Most bytes of a line that is read as a secret.
const MOST_BYTES: usize = 4096;

/// What somebody types without seeing it, or the next line of the input where nobody types.
pub fn typed(io: &mut Io<'_>, prompt: &str) -> Result<String, Failure> {
    if !io.is_stdin_terminal {
        return line(io);
    }
    ask(io, prompt);
    let line = (io.read_hidden)().map_err(|error| unreadable(&error))?;
    Ok(trimmed(&line))
}

/// The next line of the input. Read byte by byte: what comes after it belongs to the next question.
pub fn line(io: &mut Io<'_>) -> Result<String, Failure> {
    let (mut bytes, mut byte) = (Vec::new(), [0_u8]);
    while bytes.len() < MOST_BYTES && io.stdin.read(&mut byte).map_err(|error| unreadable(&error))? == 1 {
        match byte {
            [b'\n'] => break,
            [other] => bytes.push(other),
        }
    }
    let text =
        String::from_utf8(bytes).map_err(|_not_text| Failure::bad_input("The input is not UTF-8 text."))?;
    Ok(trimmed(&text))
}

/// The first line of a file.
pub fn first_line_of(path: &Path) -> Result<String, Failure> {
    let unreadable =
        |error: std::io::Error| Failure::bad_input(format!("{} cannot be read: {error}.", path.display()));
    let text = std::fs::read_to_string(path).map_err(unreadable)?;
    Ok(trimmed(text.lines().next().unwrap_or_default()))
}

fn trimmed(line: &str) -> String {
    line.trim_end_matches(['\n', '\r']).trim().to_owned()
}

fn unreadable(error: &std::io::Error) -> Failure {
    Failure::bad_input(format!("The input cannot be read: {error}."))
}
