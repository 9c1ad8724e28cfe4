//! Words and signs of states: a state is a word and a shape of its own, colour only helps.

use preen_domain::words::{CheckState, Severity, State};

/// A word with its sign, and the class that colours both.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Word {
    /// Id of the sign in the frame of the page.
    pub sign: &'static str,
    /// The word.
    pub text: &'static str,
    /// How serious it looks.
    pub tone: &'static str,
}

const fn word(sign: &'static str, text: &'static str, tone: &'static str) -> Word {
    Word { sign, text, tone }
}

/// The state of a model.
pub const fn state(state: State) -> Word {
    match state {
        State::Fit => word("disc", "fit", "good"),
        State::Restricted => word("half", "restricted", "care"),
        State::Grounded => word("block", "grounded", "stop"),
        State::Incomplete => word("gap", "incomplete", "stop"),
        State::LaidUp => word("rest", "laid up", "calm"),
        State::OnLoan => word("away", "on loan", "calm"),
    }
}

/// How bad something is.
pub const fn severity(severity: Severity) -> Word {
    match severity {
        Severity::Watch => word("eye", "watch", "calm"),
        Severity::Restrict => word("half", "restricts", "care"),
        Severity::Ground => word("block", "grounds", "stop"),
    }
}

/// Where a check stands.
pub const fn check(state: CheckState) -> Word {
    match state {
        CheckState::Clear => word("disc", "clear", "good"),
        CheckState::Due => word("half", "due", "care"),
        CheckState::Overdue => word("block", "overdue", "stop"),
        CheckState::NeverDone => word("gap", "never done", "stop"),
    }
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeSet;

    use super::*;

    #[test]
    fn no_two_states_share_a_shape() {
        let signs: BTreeSet<&str> = State::ALL.iter().map(|one| state(*one).sign).collect();
        assert_eq!(signs.len(), State::ALL.len());
        let signs: BTreeSet<&str> = Severity::ALL.iter().map(|one| severity(*one).sign).collect();
        assert_eq!(signs.len(), Severity::ALL.len());
        let signs: BTreeSet<&str> = CheckState::ALL.iter().map(|one| check(*one).sign).collect();
        assert_eq!(signs.len(), CheckState::ALL.len());
    }
}
