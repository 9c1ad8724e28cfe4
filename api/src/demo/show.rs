//! The main job, done through the REST API and told to people: which models may fly, a hard landing and what
//! it opens, a swap and what it does to the balance, what is overdue.

use std::{
    io::{Result as Said, Write},
    path::Path,
};

use chrono::{Datelike, Days, NaiveDate, Weekday};
use preen_domain::time::Instant;
use serde_json::{Value, json};
use uuid::Uuid;

use super::{
    access::Tokens,
    error::DemoError,
    grid::{cut, lines},
    rest::{Rest, RestError},
};

/// A nose weight below this is not worth the glue, g.
const WORTH_A_WEIGHT_G: f64 = 0.5;

/// Where the main job is done, and when.
pub struct Stage<'a> {
    /// The keeper's access to the club for trying things.
    pub rest: &'a Rest,
    /// Everybody's tokens.
    pub tokens: &'a Tokens,
    /// When the club's clock started.
    pub now: Instant,
    /// The club day of that.
    pub today: NaiveDate,
}

impl Stage<'_> {
    /// The coming Saturday.
    fn saturday(&self) -> NaiveDate {
        let ahead =
            (7 + Weekday::Sat.num_days_from_monday() - self.today.weekday().num_days_from_monday()) % 7;
        self.today.checked_add_days(Days::new(u64::from(ahead))).unwrap_or(self.today)
    }

    fn by(&self, member: &str) -> Rest {
        self.rest.with_token(self.tokens.of(member).unwrap_or_default())
    }

    async fn models(&self) -> Result<Vec<Value>, RestError> {
        let board = self.rest.get(&format!("may-fly?on={}", self.saturday())).await?;
        Ok(list(&board, "/models"))
    }

    async fn due(&self) -> Result<Vec<Value>, RestError> {
        let due = self.rest.get(&format!("due?on={}", self.saturday())).await?;
        Ok(list(&due, "/items"))
    }

    /// The fleet board for the coming Saturday.
    ///
    /// # Errors
    /// The service refuses, or nothing can be said.
    pub async fn board(&self, out: &mut impl Write) -> Result<(), DemoError> {
        let rows: Vec<Vec<String>> = self.models().await?.iter().map(board_row).collect();
        heading(out, &format!("Which models may fly on Saturday {}?", self.saturday()))?;
        table(out, &["MODEL", "STATE", "MAY FLY", "FLIGHTS LEFT", "NEXT DUE", "WHY"], &rows)?;
        Ok(())
    }

    /// A hard landing, the check that clears it, and a swap; only on the built-in club, whose tags it knows.
    ///
    /// # Errors
    /// The service refuses, or nothing can be said.
    pub async fn main_job(&self, out: &mut impl Write) -> Result<(), DemoError> {
        heading(out, "DR lands SG-05 hard, twenty minutes ago")?;
        let flight = json!({
            "id": Uuid::now_v7(), "model": "SG-05", "pilot": "DR", "occurred_at": self.now.plus_seconds(-1200),
            "launches": 1, "airtime_min": 9.5, "motor_s": 22, "is_landing_flap_used": true, "landing": "hard",
            "is_post_flight_logged": true, "note": "tip touched first in the stubble"
        });
        self.by("DR").post("flights", &flight).await?;
        self.say_model(out, "SG-05").await?;
        let passed = self.pass_check("QS", "SG-05", "HL").await?;
        writeln!(out, "QS looks at all {passed} items of HL and passes it:")?;
        self.say_model(out, "SG-05").await?;

        heading(out, "CM swaps the left flap servo of SG-04 (SV08-B006) for the campaign")?;
        writeln!(out, "SV08-B016 from the quarantine shelf?")?;
        match self.swap("CM", "SG-04", "?preview=true", ("W.C/FS.L", "SV08-B016")).await {
            Err(RestError::Refused { text, .. }) => writeln!(out, "  Refused: {text}")?,
            answer => say_swap(out, &answer?)?,
        }
        writeln!(out, "SV08-C004 from the spares shelf?")?;
        let swap = ("W.C/FS.L", "SV08-C004");
        say_swap(out, &self.swap("CM", "SG-04", "?preview=true", swap).await?)?;
        self.swap("CM", "SG-04", "", swap).await?;
        writeln!(out, "Recorded. SG-04 now:")?;
        self.say_model(out, "SG-04").await?;

        heading(out, "And a heavier elevator servo in the fin of SG-01? (asked only, nothing recorded)")?;
        say_swap(out, &self.swap("AV", "SG-01", "?preview=true", ("F/ES", "SV06M-U002")).await?)?;
        Ok(())
    }

    /// Swaps what sits in a place for a spare, as a member, five minutes before the club's clock started.
    async fn swap(
        &self,
        member: &str,
        model: &str,
        query: &str,
        (path, on): (&str, &str),
    ) -> Result<Value, RestError> {
        let body = json!({
            "occurred_at": self.now.plus_seconds(-300),
            "exchanges": [{ "path": path, "on": on, "installation": Uuid::now_v7(), "removal": Uuid::now_v7(),
                "reason": "preventive" }]
        });
        self.by(member).post(&format!("models/{model}/swap{query}"), &body).await
    }

    /// Passes a check item by item, as a member; returns how many items there were.
    async fn pass_check(&self, member: &str, model: &str, group: &str) -> Result<usize, RestError> {
        let programmes = self.rest.get("programmes").await?;
        let items = list(&programmes, "/items/0/items");
        let codes = items.iter().filter(|item| text(item, "/group") == group).map(|item| text(item, "/code"));
        let results: Vec<Value> = codes.map(|code| json!({ "item": code, "result": "pass" })).collect();
        let check = json!({
            "id": Uuid::now_v7(), "model": model, "group": group, "occurred_at": self.now.plus_seconds(-600),
            "result": "pass", "is_summary": false, "items": results
        });
        self.by(member).post("inspections", &check).await?;
        Ok(results.len())
    }

    async fn say_model(&self, out: &mut impl Write, tag: &str) -> Result<(), DemoError> {
        for model in self.models().await?.iter().filter(|model| text(model, "/model") == tag) {
            writeln!(out, "  {tag} on {}: {}", self.saturday(), text(model, "/state"))?;
            for reason in list(model, "/reasons") {
                let (severity, said) = (text(&reason, "/severity"), text(&reason, "/text"));
                writeln!(out, "    {severity:<9} {said}")?;
                writeln!(out, "    {:<9} -> {}", "", text(&reason, "/clear_by"))?;
            }
        }
        Ok(())
    }

    /// What is due or overdue by the coming Saturday, and by how much.
    ///
    /// # Errors
    /// The service refuses, or nothing can be said.
    pub async fn overdue(&self, out: &mut impl Write) -> Result<(), DemoError> {
        let due = self.due().await?;
        let rows: Vec<Vec<String>> =
            due.iter().filter(|item| text(item, "/state") != "clear").map(due_row).collect();
        heading(out, &format!("What is due or overdue on {}, and by how much?", self.saturday()))?;
        table(out, &["MODEL", "CHECK", "STATE", "BY HOW MUCH", "LAST DONE", "NAME"], &rows)?;
        Ok(())
    }
}

fn board_row(model: &Value) -> Vec<String> {
    let may_fly = model.pointer("/may_fly") == Some(&Value::Bool(true));
    let restrictions = list(model, "/restrictions").iter().map(restriction).collect::<Vec<_>>().join(", ");
    let reason = model.pointer("/reasons/0").map(|reason| text(reason, "/text")).unwrap_or_default();
    let why = if may_fly && !restrictions.is_empty() { restrictions } else { reason };
    let next = model.pointer("/next_due").filter(|next| !next.is_null());
    let next = next.map(|next| format!("{} {}", text(next, "/group"), text(next, "/on")));
    vec![
        text(model, "/model"),
        text(model, "/state"),
        if may_fly { "yes" } else { "no" }.to_owned(),
        text(model, "/flights_left"),
        next.unwrap_or_default(),
        cut(&why, 78),
    ]
}

fn restriction(restriction: &Value) -> String {
    let (kind, value) = (text(restriction, "/kind").replace('_', " "), text(restriction, "/value"));
    let value = value.strip_suffix(".0").unwrap_or(&value).to_owned();
    format!("{kind} {value} ({})", text(restriction, "/source")).replace("  ", " ")
}

fn due_row(item: &Value) -> Vec<String> {
    let amount = |at: &str| item.pointer(at).and_then(Value::as_i64).filter(|amount| *amount > 0);
    let counter = text(item, "/counter");
    let over = [
        amount("/count_over").map(|count| format!("{} over", counted(count, &counter))),
        amount("/days_over").map(|days| format!("{} late", counted(days, "days"))),
    ];
    let over: Vec<String> = over.into_iter().flatten().collect();
    let opened = || {
        list(item, "/opened_by").iter().map(|opened| text(opened, "/subject")).collect::<Vec<_>>().join(", ")
    };
    let by = if over.is_empty() { opened() } else { over.join(", ") };
    vec![
        text(item, "/model"),
        text(item, "/group"),
        text(item, "/state"),
        by,
        text(item, "/done_on"),
        text(item, "/name"),
    ]
}

/// A number of things, whose word is given in the plural.
fn counted(number: i64, things: &str) -> String {
    let one = things.strip_suffix('s').filter(|_| number == 1);
    format!("{number} {}", one.unwrap_or(things))
}

fn say_swap(out: &mut impl Write, answer: &Value) -> Said<()> {
    let row = |name: &str, at: &str| {
        let number = |field: &str| answer.pointer(&format!("{at}/{field}")).and_then(Value::as_f64);
        let said = |value: Option<f64>, digits: usize| {
            value.map(|value| format!("{value:.digits$}")).unwrap_or_default()
        };
        let cells = [said(number("mass_g"), 2), said(number("x_mm"), 3), said(number("y_mm"), 3)];
        std::iter::once(name.to_owned()).chain(cells).collect::<Vec<_>>()
    };
    let rows = [row("before", "/before"), row("after", "/after"), row("change", "/delta")];
    table(out, &["", "MASS g", "CG x mm", "CG y mm"], &rows)?;
    let number = |at: &str| answer.pointer(at).and_then(Value::as_f64).unwrap_or_default();
    let inside =
        if answer.pointer("/range/inside") == Some(&Value::Bool(true)) { "inside" } else { "OUTSIDE" };
    writeln!(out, "  CG is {inside} {} to {} mm.", number("/range/min_mm"), number("/range/max_mm"))?;
    let (mass, place) = (number("/nose_weight_g"), number("/nose_weight_x_mm"));
    if mass.abs() < WORTH_A_WEIGHT_G {
        writeln!(out, "  No nose weight needed.")?;
    } else {
        writeln!(out, "  To restore the CG: {mass:.2} g at x {place:.0} mm.")?;
    }
    let opened: Vec<String> = list(answer, "/checks_opened").iter().map(|code| text(code, "")).collect();
    writeln!(out, "  It opens: {}.", opened.join(", "))
}

/// Where the pages are and how to sign in.
pub struct Pages {
    /// Where the service answers.
    pub url: String,
    /// Short name of the club.
    pub club: String,
    /// A member.
    pub member: String,
    /// The password of every member.
    pub password: String,
}

/// What to do next, in another terminal.
///
/// # Errors
/// Nothing can be said.
pub fn what_to_try(out: &mut impl Write, env: &Path, knows_tags: bool, pages: &Pages) -> Said<()> {
    heading(out, "What to try next, in another terminal")?;
    writeln!(out, "  source {}", env.display())?;
    let asked: &[&str] = if knows_tags {
        &[
            "may-fly --on 2026-05-23",
            "due --on 2026-05-23",
            "where --batch SV08/B --position-kind \"flap servo\"",
            "history JN-SG-01-L",
            "usage SV08-B011",
        ]
    } else {
        &["may-fly", "due", "models list"]
    };
    let client = client_command();
    for question in asked {
        writeln!(out, "  {client} {question}")?;
    }
    writeln!(out, "  curl -H \"Authorization: Bearer $PREEN_TOKEN\" \"$PREEN_URL/api/v1/may-fly\"")?;
    writeln!(out, "  The interface is described at $PREEN_URL/docs")?;
    writeln!(
        out,
        "  Pages: {}/ – club {}, member {}, password {}",
        pages.url, pages.club, pages.member, pages.password
    )
}

/// How the command line client is called from here: built beside this binary, by cargo, or as installed.
fn client_command() -> String {
    let here = std::env::current_exe().unwrap_or_default();
    let is_built = here.components().any(|part| part.as_os_str() == "target");
    if is_built { "cargo run -q --bin preen --".to_owned() } else { "preen".to_owned() }
}

fn heading(out: &mut impl Write, words: &str) -> Said<()> {
    writeln!(out, "\n{words}\n")
}

fn table(out: &mut impl Write, header: &[&str], rows: &[Vec<String>]) -> Said<()> {
    for line in lines(header, rows) {
        writeln!(out, "  {line}")?;
    }
    Ok(())
}

fn list(value: &Value, at: &str) -> Vec<Value> {
    value.pointer(at).and_then(Value::as_array).cloned().unwrap_or_default()
}

/// A field as text; nothing where there is none.
fn text(value: &Value, at: &str) -> String {
    match value.pointer(at) {
        None | Some(Value::Null) => String::new(),
        Some(Value::String(text)) => text.clone(),
        Some(other) => other.to_string(),
    }
}
