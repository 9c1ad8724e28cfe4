//! Moments, days, numbers and limits in the words of sheets and pages: by the club's clock, never by the reader's.

use chrono::{NaiveDate, TimeZone};
use chrono_tz::Tz;
use preen_domain::facts::Limit;
use preen_domain::text::Text;
use preen_domain::time::{Instant, day_of};
use preen_domain::words::Direction;

/// Day and minute by the club's clock.
pub fn moment(at: Instant, zone: Tz) -> String {
    zone.from_utc_datetime(&at.to_utc().naive_utc()).format("%Y-%m-%d %H:%M %Z").to_string()
}

/// The club day of a moment.
pub fn day(at: Instant, zone: Tz) -> String {
    day_of(at, zone).to_string()
}

/// A club day with its name.
pub fn weekday(day: NaiveDate) -> String {
    day.format("%A %Y-%m-%d").to_string()
}

/// A number with so many places behind the point, and a true minus sign never on a zero.
pub fn fixed(value: f64, places: usize) -> String {
    let text = format!("{value:.places$}");
    let is_zero = text.chars().all(|one| matches!(one, '-' | '0' | '.'));
    if is_zero { text.trim_start_matches('-').to_owned() } else { text.replace('-', "−") }
}

/// A number as short as it can be said without loss, up to four places.
pub fn short(value: f64) -> String {
    let text = fixed(value, 4);
    if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.').to_owned() } else { text }
}

/// Where each class of a quantity begins, the mildest first: `watch ≥ 0.8, restrict ≥ 1`.
pub fn classes(
    direction: Direction,
    watch: Option<f64>,
    restrict: Option<f64>,
    ground: Option<f64>,
) -> String {
    let sign = direction.sign();
    let told = [("watch", watch), ("restrict", restrict), ("ground", ground)];
    let told = told.iter().filter_map(|(word, at)| at.map(|at| format!("{word} {sign} {}", short(at))));
    told.collect::<Vec<_>>().join(", ")
}

/// A limit of an item: of which quantity, at which kinds of position, its classes and their unit.
pub fn limit(limit: &Limit) -> String {
    let kinds: Vec<&str> = limit.position_kinds.iter().map(Text::as_str).collect();
    let kinds = if kinds.is_empty() { String::new() } else { format!(" ({})", kinds.join(", ")) };
    let said = classes(limit.direction, limit.watch, limit.restrict, limit.ground);
    format!("{}{kinds}: {said} {}", limit.quantity.as_str().replace('_', " "), limit.unit)
}

/// A text with something in the place of a word, where that stands by itself: `BK` goes, `BK-7` and `TBK` stay.
pub fn replaced_alone(text: &str, word: &str, instead: &str) -> String {
    let is_of_tag = |one: char| one.is_alphanumeric() || matches!(one, '-' | '.' | '_' | '/');
    let mut clean = String::with_capacity(text.len());
    let mut rest = text;
    let mut before: Option<char> = None;
    while let Some(at) = rest.find(word) {
        let (head, tail) = rest.split_at(at);
        let after = tail.get(word.len()..).unwrap_or_default();
        let left = head.chars().next_back().or(before);
        // A full stop at the end of a sentence is none of the tag.
        let mut following = after.chars();
        let right =
            following.next().filter(|one| *one != '.' || following.next().is_some_and(char::is_alphanumeric));
        clean.push_str(head);
        let stands_alone = !left.is_some_and(is_of_tag) && !right.is_some_and(is_of_tag);
        clean.push_str(if stands_alone { instead } else { word });
        before = word.chars().next_back();
        rest = after;
    }
    clean.push_str(rest);
    clean
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_are_told_short_and_with_a_true_minus() {
        assert_eq!(fixed(-0.04, 1), "0.0");
        assert_eq!(fixed(-1.25, 2), "−1.25");
        assert_eq!(short(0.071), "0.071");
        assert_eq!(short(12.0), "12");
        assert_eq!(short(-335.0), "−335");
    }
}
