//! The calendar is only written: whatever a day is called, its lines are of 75 octets at most, and an independent reader finds
//! the same texts in it.

use arbitrary::Unstructured;
use calcard::icalendar::{ICalendar, ICalendarComponentType, ICalendarProperty};
use chrono::{Days, NaiveDate};
use preen_api::exchange::calendar::calendar;
use preen_domain::answers::DayAhead;
use preen_domain::time::Instant;
use preen_fuzz::texts::odd_text;

/// A text as the record may hold one: no other control characters than line breaks, no blanks round it.
fn text(bytes: &mut Unstructured<'_>) -> String {
    let odd: String = (0..bytes.int_in_range(1..=3).unwrap_or(1)).map(|_| odd_text(bytes)).collect();
    let kept: String =
        odd.chars().filter(|letter| *letter == '\n' || !letter.is_control()).take(4_000).collect();
    let kept = kept.trim().trim_matches('\u{feff}').to_owned();
    if kept.is_empty() { "N25 due; SG-01, \\ \"left\"".to_owned() } else { kept }
}

/// A few days with odd texts.
///
/// # Panics
/// Where the reader finds something else.
pub fn try_calendar(bytes: &mut Unstructured<'_>) {
    let first = NaiveDate::from_ymd_opt(2026, 5, 20).expect("a day");
    let days: Vec<DayAhead> = (0..bytes.int_in_range(1..=4_u64).unwrap_or(1))
        .map(|number| DayAhead {
            key: format!("check-{number}"),
            on: first + Days::new(bytes.int_in_range(0..=40_000).unwrap_or(0)),
            summary: text(bytes),
            text: text(bytes),
            is_forecast: bytes.arbitrary().unwrap_or(false),
        })
        .collect();
    let at: Instant = "2026-05-20T10:00:00Z".parse().expect("a moment");
    let title = text(bytes);
    let written = calendar(&title, "quillmarsh", &days, at);
    assert!(written.ends_with("\r\n"));
    for line in written.split("\r\n") {
        assert!(line.len() <= 75 && !line.contains(['\n', '\r']), "{line:?}");
    }
    let read = ICalendar::parse(&written).unwrap_or_else(|error| panic!("{error:?}: {written}"));
    let whole = &read.components[0];
    let name = whole.property(&ICalendarProperty::Name).expect("a name").values[0].clone().into_text();
    assert_eq!(name.as_deref(), Some(title.as_str()), "{written}");
    let events = read.components.iter().filter(|part| part.component_type == ICalendarComponentType::VEvent);
    let mut found = 0;
    for (event, day) in events.zip(&days) {
        let value = |property: &ICalendarProperty| {
            let entry =
                event.property(property).unwrap_or_else(|| panic!("{property:?} is missing: {written}"));
            entry.values[0].clone().into_text().expect("a text").into_owned()
        };
        assert_eq!(value(&ICalendarProperty::Uid), format!("{}@quillmarsh.preen", day.key));
        assert_eq!(value(&ICalendarProperty::Summary), day.summary, "{written}");
        assert_eq!(value(&ICalendarProperty::Description), day.text, "{written}");
        let start = event.property(&ICalendarProperty::Dtstart).expect("a day");
        let start = start.values[0].as_partial_date_time().expect("a day");
        let told = format!(
            "{:04}-{:02}-{:02}",
            start.year.unwrap_or(0),
            start.month.unwrap_or(0),
            start.day.unwrap_or(0)
        );
        assert_eq!(told, day.on.to_string());
        found += 1;
    }
    assert_eq!(found, days.len(), "{written}");
}
