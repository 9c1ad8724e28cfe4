//! The calendar feed of a member (RFC 5545): a private link that calendar programs ask again and again.

use actix_web::http::header;
use actix_web::{HttpRequest, HttpResponse, get};
use icalendar::{Calendar, Component as _, Event, EventLike as _, Property};
use preen_domain::answers::{DayAhead, Whose, days_ahead, worked_out_at};
use preen_domain::time::Instant;

use crate::access::actor::Subscriber;
use crate::answers::ask::Ask;
use crate::problem::Problem;
use crate::resources::page::Pairs;
use crate::routes::Routes;
use crate::state::Shared;

/// Gives the coming days of a member's models as a calendar: checks, last days of defects, campaigns and loans.
///
/// For calendar programs the token may stand in the link; then it must be one with the scope `calendar` alone.
#[utoipa::path(
    tag = "exchange",
    params(
        ("token" = Option<String>, Query, description = "A token whose only scope is `calendar`."),
        ("models" = Option<String>, Query, pattern = "^(mine|all)$", description = "`mine` (the default: one's own, the club's and borrowed ones) \
            or `all`.")
    ),
    responses((status = 200, description = "RFC 5545.", content_type = "text/calendar", body = String))
)]
#[get("/calendar.ics")]
pub async fn show_calendar(
    state: Shared,
    actor: Subscriber,
    request: HttpRequest,
    query: Pairs,
) -> Result<HttpResponse, Problem> {
    let ask = Ask::with(&state, &actor.0, &request, query, &["token", "models"]).await?;
    let etag = ask.validator();
    if let Some(unchanged) = ask.unchanged(&etag) {
        return Ok(unchanged);
    }
    let whole_fleet = match ask.parameter("models") {
        None | Some("mine") => false,
        Some("all") => true,
        Some(other) => {
            return Err(Problem::bad_parameter(
                "models",
                format!("There is no choice `{other}`: mine or all."),
            ));
        }
    };
    let fleet = &ask.held.fleet;
    let whose = match (ask.sees_all, whole_fleet) {
        (true, true) => Whose::All,
        (true, false) => Whose::Mine(ask.member),
        // Who does not see the fleet is shown what is lent to them.
        (false, _) => Whose::Lent(ask.member),
    };
    let days = days_ahead(fleet, whose, ask.moment);
    let club = fleet.club();
    let text = calendar(&club.title, club.tag.as_str(), &days, worked_out_at(fleet, ask.moment));
    Ok(HttpResponse::Ok()
        .content_type("text/calendar; charset=utf-8")
        .insert_header((header::ETAG, etag))
        .insert_header((header::CACHE_CONTROL, "private, no-cache"))
        .insert_header((header::REFERRER_POLICY, "no-referrer"))
        .insert_header((header::VARY, "Authorization, Cookie"))
        .body(text))
}

/// The days of a club as a calendar. Each keeps its name from one asking to the next, so that a day that moves is moved.
pub fn calendar(title: &str, club: &str, days: &[DayAhead], worked_out_at: Instant) -> String {
    let mut calendar = Calendar::empty();
    calendar.append_property(Property::new("VERSION", "2.0"));
    calendar.append_property(Property::new("PRODID", "-//Preen//Preen//EN"));
    calendar.append_property(Property::new("CALSCALE", "GREGORIAN"));
    // The writer sets marks before the letters of an event's texts, not of the calendar's name.
    calendar.name(&escaped(title));
    calendar
        .append_property(Property::new("REFRESH-INTERVAL", "PT6H").add_parameter("VALUE", "DURATION").done());
    for day in days {
        let mut event = Event::new();
        event
            .uid(&format!("{}@{club}.preen", day.key))
            .timestamp(worked_out_at.to_utc())
            .summary(&day.summary)
            .description(&day.text)
            .starts(day.on)
            .append_property(Property::new("TRANSP", "TRANSPARENT"))
            .append_property(Property::new(
                "STATUS",
                if day.is_forecast { "TENTATIVE" } else { "CONFIRMED" },
            ));
        calendar.push(event.done());
    }
    fold(&calendar.done().to_string())
}

/// A text as a value (RFC 5545, 3.3.11).
fn escaped(text: &str) -> String {
    let marked = text.replace('\\', "\\\\").replace(';', "\\;").replace(',', "\\,");
    marked.replace("\r\n", "\\n").replace(['\r', '\n'], "\\n")
}

/// Octets of a line at most, the line break not counted (RFC 5545, 3.1).
const LINE: usize = 75;

/// Breaks long lines anew: the writer's own lines are one octet longer than the standard wants them.
fn fold(text: &str) -> String {
    let mut folded = String::with_capacity(text.len());
    for line in text.replace("\r\n ", "").split_terminator("\r\n") {
        let mut octets = 0;
        for letter in line.chars() {
            if octets + letter.len_utf8() > LINE {
                folded.push_str("\r\n ");
                octets = 1;
            }
            folded.push(letter);
            octets += letter.len_utf8();
        }
        folded.push_str("\r\n");
    }
    folded
}

/// Registers the routes.
pub fn routes(config: &mut Routes<'_, '_>) {
    config.service(show_calendar);
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_are_of_75_octets_at_most_and_unfold_to_the_same() {
        let long = format!("SUMMARY:{}", "é1".repeat(100));
        let folded = fold(&format!("A:1\r\n{long}\r\n"));
        assert!(folded.ends_with("\r\n") && folded.split("\r\n").all(|line| line.len() <= LINE), "{folded}");
        assert_eq!(folded.replace("\r\n ", ""), format!("A:1\r\n{long}\r\n"));
    }
}
