//! JSON as the service sent it, digit by digit and key by key, only laid out for eyes.

/// Lays out a JSON text in lines. The text must be JSON; nothing but white space between its parts changes.
pub fn indent(text: &str) -> String {
    let mut laid_out = String::with_capacity(text.len() * 2);
    let mut depth = 0_usize;
    let mut is_in_text = false;
    let mut is_escaped = false;
    let mut chars = text.trim().chars().peekable();
    while let Some(c) = chars.next() {
        if is_in_text {
            laid_out.push(c);
            (is_in_text, is_escaped) = match c {
                _ if is_escaped => (true, false),
                '\\' => (true, true),
                '"' => (false, false),
                _ => (true, false),
            };
            continue;
        }
        match c {
            '"' => {
                is_in_text = true;
                laid_out.push(c);
            }
            '{' | '[' => {
                laid_out.push(c);
                while chars.next_if(char::is_ascii_whitespace).is_some() {}
                match chars.next_if(|next| matches!(next, '}' | ']')) {
                    Some(end) => laid_out.push(end),
                    None => {
                        depth += 1;
                        new_line(&mut laid_out, depth);
                    }
                }
            }
            '}' | ']' => {
                depth = depth.saturating_sub(1);
                new_line(&mut laid_out, depth);
                laid_out.push(c);
            }
            ',' => {
                laid_out.push(c);
                new_line(&mut laid_out, depth);
            }
            ':' => laid_out.push_str(": "),
            _ if c.is_ascii_whitespace() => {}
            _ => laid_out.push(c),
        }
    }
    laid_out.push('\n');
    laid_out
}

fn new_line(text: &mut String, depth: usize) {
    text.push('\n');
    text.extend(std::iter::repeat_n("  ", depth));
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_the_layout_changes() {
        let text = r#"{"z":[1,-2.50e3,{}],"a":"x, {\"y\": [\\\"}","e":[ ],"n":null}"#;
        let laid_out = indent(text);
        assert_eq!(
            laid_out,
            "{\n  \"z\": [\n    1,\n    -2.50e3,\n    {}\n  ],\n  \"a\": \"x, {\\\"y\\\": [\\\\\\\"}\",\n  \"e\": [],\n  \"n\": null\n}\n"
        );
        let read = |text: &str| serde_json::from_str::<serde_json::Value>(text).unwrap();
        assert_eq!(read(text), read(&laid_out));
    }
}
