//! What went wrong: the kind gives the exit code, the sentence says what, the hint what to do about it.

/// Exit code of bad input.
pub const BAD_INPUT: u8 = 3;
/// Exit code of a refusal.
pub const REFUSED: u8 = 4;
/// Exit code when the service cannot be reached.
pub const UNREACHABLE: u8 = 5;

/// The kind of a failure.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kind {
    /// What was typed or sent does not fit.
    BadInput,
    /// A rule of the record or access stands against it.
    Refused,
    /// No service, or none that answers sensibly.
    Unreachable,
}

/// A failure with all that people should read about it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Failure {
    /// Its kind.
    pub kind: Kind,
    /// One sentence that says what is wrong.
    pub text: String,
    /// Single complaints, where there are several.
    pub details: Vec<String>,
    /// What to do about it.
    pub hints: Vec<String>,
    /// The code by which the service calls it, where it is the service that said so.
    pub problem: Option<String>,
}

impl Failure {
    fn new(kind: Kind, text: impl Into<String>) -> Self {
        Self { kind, text: text.into(), details: Vec::new(), hints: Vec::new(), problem: None }
    }

    /// What was typed does not fit.
    pub fn bad_input(text: impl Into<String>) -> Self {
        Self::new(Kind::BadInput, text)
    }

    /// The service does not answer.
    pub fn unreachable(text: impl Into<String>) -> Self {
        Self::new(Kind::Unreachable, text)
    }

    /// A file is there that would be written over; `flag` names another one.
    pub fn is_there(file: &std::path::Path, flag: &str) -> Self {
        Self::bad_input(format!("{} is there already.", file.display()))
            .hint(format!("`{flag} FILE` names another one, `--force` writes over it."))
    }

    /// The same with a hint.
    #[must_use]
    pub fn hint(mut self, hint: impl Into<String>) -> Self {
        self.hints.push(hint.into());
        self
    }

    /// The same with single complaints.
    #[must_use]
    pub fn details(mut self, details: Vec<String>) -> Self {
        self.details = details;
        self
    }

    /// Whether what was to be sent may arrive later as it is: nobody was reached, or it was not certain who asks.
    pub fn lets_wait(&self) -> bool {
        let of_access = |code: &str| code.starts_with("token_") || code == "too_many_attempts";
        self.kind == Kind::Unreachable || self.problem.as_deref().is_some_and(of_access)
    }

    /// The exit code.
    pub const fn code(&self) -> u8 {
        match self.kind {
            Kind::BadInput => BAD_INPUT,
            Kind::Refused => REFUSED,
            Kind::Unreachable => UNREACHABLE,
        }
    }
}

/// A complaint with the field it is about (a JSON pointer), where the text does not name it itself.
pub fn say_field(pointer: &str, text: &str) -> String {
    let field = pointer.trim_start_matches('/').replace('/', ".");
    if field.is_empty() || text.contains(&field) { text.to_owned() } else { format!("{field}: {text}") }
}
