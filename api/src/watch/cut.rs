//! Texts of faults as they may stand in the log: what somebody wrote is cut out of them.
//!
//! Databases and readers of JSON repeat in their messages what they could not take: in quotes of some kind, or in
//! brackets (`Key (club_id, tag)=(…)`). What stands there is left out, and the rest is bounded.

/// Letters of a text that are logged at most.
const LONGEST: usize = 400;

/// The text without anything that stands in quotes or brackets.
#[must_use]
pub fn cut(text: &str) -> String {
    let mut kept = String::new();
    let mut letters = text.chars();
    while let Some(letter) = letters.next() {
        if kept.len() >= LONGEST {
            kept.push('…');
            break;
        }
        let end = match letter {
            '"' | '\'' | '`' => letter,
            '(' => ')',
            '{' => '}',
            '[' => ']',
            '“' => '”',
            '\n' | '\r' => {
                kept.push(' ');
                continue;
            }
            _ => {
                kept.push(letter);
                continue;
            }
        };
        // What is opened and never closed is left out to its end. Within quotes a backslash keeps the next letter in.
        kept.extend([letter, '…']);
        let mut depth = 1_u32;
        while let Some(inside) = letters.next() {
            if inside == '\\' {
                let _escaped = letters.next();
            } else if inside == end {
                depth -= 1;
                if depth == 0 {
                    kept.push(end);
                    break;
                }
            } else if inside == letter {
                depth += 1;
            }
        }
    }
    kept
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_somebody_wrote_is_left_out() {
        let check = |text: &str, kept: &str| assert_eq!(cut(text), kept);
        check(
            "database: duplicate key value violates unique constraint \"names_tag\": Key (club_id, tag)=(moor, AV)",
            "database: duplicate key value violates unique constraint \"…\": Key (…)=(…)",
        );
        check("invalid type: string \"a \\\"b\\\" c\", expected", "invalid type: string \"…\", expected");
        check("unknown variant `AV`, at line 1", "unknown variant `…`, at line 1");
        check("row (a (b) c) of", "row (…) of");
        check("it breaks off: \"a note", "it breaks off: \"…");
        check("{\"note\": \"x\"} is\nno flight", "{…} is no flight");
        check("UNIQUE constraint failed: flights.id", "UNIQUE constraint failed: flights.id");
        assert!(cut(&"x".repeat(5_000)).len() < 500);
    }
}
