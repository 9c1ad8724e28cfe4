//! The codes of the reasons that may-fly can give, as they stand in the source of the answers it is made of: every
//! word with an underscore between quotes, but those that are known to be something else.

use std::{
    collections::BTreeSet,
    path::{Path, PathBuf},
};

/// Words in the same files that are no reasons: quantities, restrictions, words of a lint.
const OTHER_WORDS: &[&str] = &[
    "capacity_of_rated",
    "cell_resistance",
    "cell_resistance_ratio",
    "joiner_clearance_vertical",
    "lead_slack",
    "max_flights",
    "max_wind",
    "no_contest",
    // Becomes `swap_unchecked` or `radio_change_unchecked` before it is told.
    "part_change",
    "servo_idle_current",
    "servo_stall_current",
    "snake_case",
    "storage_drop_30d",
    "storage_drop_odd_cell",
    "tip_rock_total",
    "until_date",
];

fn answers() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../api/domain/src/answers")
}

/// The files of a module of the answers.
fn files_of(module: &str) -> Vec<PathBuf> {
    let file = answers().join(format!("{module}.rs"));
    if file.is_file() {
        return vec![file];
    }
    let Ok(folder) = std::fs::read_dir(answers().join(module)) else { return Vec::new() };
    folder
        .map(|entry| entry.unwrap().path())
        .filter(|path| path.extension().is_some_and(|end| end == "rs"))
        .collect()
}

/// The names that stand behind `use super::` in a file.
fn uses(source: &str) -> BTreeSet<String> {
    let mut names = BTreeSet::new();
    for part in source.split("use super::").skip(1) {
        let list = part.split(';').next().unwrap();
        let words = list.split(|letter: char| !letter.is_ascii_lowercase() && letter != '_');
        names.extend(words.filter(|word| !word.is_empty() && *word != "super").map(ToOwned::to_owned));
    }
    names
}

/// Words with an underscore between quotes, comments left out.
fn words(source: &str) -> BTreeSet<String> {
    let mut found = BTreeSet::new();
    for line in source.lines().filter(|line| !line.trim_start().starts_with("//")) {
        for word in line.split('"').skip(1).step_by(2) {
            let is_word = word.contains('_')
                && word
                    .chars()
                    .all(|letter| letter.is_ascii_lowercase() || letter == '_' || letter.is_ascii_digit());
            if is_word {
                found.insert(word.to_owned());
            }
        }
    }
    found
}

/// All codes, in order.
pub fn codes() -> Vec<String> {
    let mut modules = BTreeSet::from(["may_fly".to_owned()]);
    let mut to_read: Vec<String> = modules.iter().cloned().collect();
    let mut all = BTreeSet::new();
    while let Some(module) = to_read.pop() {
        for path in files_of(&module) {
            let source = std::fs::read_to_string(&path).unwrap();
            all.extend(words(&source));
            for name in uses(&source) {
                if modules.insert(name.clone()) {
                    to_read.push(name);
                }
            }
        }
    }
    all.retain(|word| !OTHER_WORDS.contains(&word.as_str()));
    all.into_iter().collect()
}

#[test]
fn the_source_is_read() {
    let codes = codes();
    assert!(codes.len() >= 30, "{codes:?}");
    for code in ["check_overdue", "position_empty", "campaign_work_failed", "return_unchecked"] {
        assert!(codes.iter().any(|known| known == code), "{code}");
    }
    let made_up =
        "use super::{Moment, seats::empty};\nFinding::new(\"new_reason\", // \"not_this\"\n// \"nor_this\"";
    assert!(words(made_up).contains("new_reason") && !words(made_up).contains("nor_this"));
    assert!(uses(made_up).contains("seats"));
}
