//! `preen trend`: how a part wears, and when its limits will be reached.

use chrono_tz::Tz;
use preen_domain::answers::{
    Answer, ComponentTrend, LimitForecast, TrendReading, WHOLE_HISTORY_REFUSED, WearLine, WearSeries,
};
use preen_domain::facts::Noun;
use preen_domain::words::WearCounter;

use super::{Session, frame_line};
use crate::args::Asked;
use crate::failure::Failure;
use crate::moments::show_short;
use crate::output::{Block, Cell, Reply, Table, left, right};

/// Which part, what of it, when.
#[derive(Debug, clap::Args)]
#[command(
    after_help = "Only the readings since the last re-work or change of method are fitted. Earliest is where \
                        the one-sided 95 % band of one reading meets the limit."
)]
pub struct Args {
    /// The part
    component: String,
    /// One quantity, such as servo_free_play [default: all that were read]
    #[arg(long, value_name = "QUANTITY")]
    what: Option<String>,
    /// The use to count: flights, launches, airtime_h, motor_s, riggings, matings, charges, reterminations or days
    /// [default: what drives the wear of such a part]
    #[arg(long, value_name = "COUNTER")]
    by: Option<WearCounter>,
    /// Fit all readings; refused where a re-work or a change of method started them anew
    #[arg(long)]
    whole_history: bool,
    #[command(flatten)]
    asked: Asked,
}

/// Asks and shows.
pub fn run(args: &Args, session: &mut Session<'_, '_>) -> Result<Reply, Failure> {
    let mut query = args.asked.query(&session.client)?;
    query.extend(args.what.as_ref().map(|what| ("quantity", what.clone())));
    query.extend(args.by.map(|by| ("by", by.to_string())));
    query.extend(args.whole_history.then(|| ("whole_history", "true".to_owned())));
    let name = session.client.name(Noun::Components, &args.component)?;
    let received = session.client.get(&[Noun::Components.as_str(), name, "trend"], &query)?;
    let answer: Answer<ComponentTrend> = received.read()?;
    let mut reply = Reply { json: received.text, ..Reply::default() };
    // A fit that was asked for and refused by the rule is no answer.
    let is_refused = |series: &WearSeries| {
        series.refusal.as_ref().is_some_and(|refusal| refusal.code == WHOLE_HISTORY_REFUSED)
    };
    if args.whole_history && answer.answer.series.iter().any(is_refused) {
        reply.code = 4;
    }
    if session.is_json {
        return Ok(reply);
    }
    let zone = session.client.zone()?;
    let frame = frame_line(&answer, zone);
    let trend = answer.answer;
    let part = trend.part.map(|part| format!(", {part}")).unwrap_or_default();
    let place = trend.place.map_or_else(|| ", in no model".to_owned(), |place| format!(", in {place}"));
    reply.line(format!("{}{part}{place}", trend.component));
    reply.line(frame);
    if trend.series.is_empty() {
        reply.line("Nothing was read on it by then.");
        reply.hint(format!("`preen measure {}` records a reading.", trend.component));
    }
    reply.csv = Table::new(CSV_COLUMNS.map(left));
    for series in &trend.series {
        show(&mut reply, series, zone);
        csv(&mut reply.csv, &trend.component, series);
    }
    Ok(reply)
}

fn show(reply: &mut Reply, series: &WearSeries, zone: Tz) {
    let counter = series.counter.as_str().replace('_', " ");
    reply.line("");
    let method = series.method.as_ref().map(|method| format!(", read by {method}")).unwrap_or_default();
    reply.line(format!(
        "{} in {}{method}: {} {counter} {}",
        series.quantity.replace('_', " "),
        series.unit,
        count(series, series.now_count),
        series.counted_from.text
    ));
    for restart in &series.restarts {
        reply.line(format!("  {restart}; readings before it are not fitted."));
    }
    if let Some(note) = &series.counter_note {
        reply.line(format!("  {note}."));
    }
    let names = ["when", "record"].map(left).into_iter();
    let names =
        names.chain([right(counter.as_str()), right(series.unit.as_str()), left("class"), left("fitted")]);
    let mut table = Table::new(names);
    for reading in &series.readings {
        table.push(row(series, reading, zone));
    }
    reply.blocks.push(Block::Table(table));
    if let Some(line) = &series.line {
        show_line(reply, series, line);
    }
    if !series.forecast.is_empty() {
        let mut limits = Table::new([
            left("limit"),
            right(series.unit.as_str()),
            right(format!("at {counter}")),
            right("left"),
            right("earliest left"),
            right("robust left"),
            left("about"),
            left("earliest"),
        ]);
        for limit in &series.forecast {
            limits.push(limit_row(series, limit));
        }
        reply.line("");
        reply.blocks.push(Block::Table(limits));
        reply.line("");
        for limit in &series.forecast {
            reply.line(format!("{}.", limit.text));
        }
    }
    if let Some(rate) = &series.rate
        && series.counter != WearCounter::Days
    {
        reply.line(format!(
            "{:.2} {counter} a day ({:.2} to {:.2}, 90 %): {}.",
            rate.per_day, rate.low_per_day, rate.high_per_day, rate.text
        ));
    }
    if let Some(refusal) = &series.refusal {
        reply.line(format!("{}.", upper(&refusal.text)));
    }
}

fn show_line(reply: &mut Reply, series: &WearSeries, line: &WearLine) {
    let (unit, counter) = (&series.unit, one(series.counter));
    let robust = line.robust_slope.map(|slope| format!("; robust {}", figures(slope))).unwrap_or_default();
    let held = line.robust_interval.map_or_else(String::new, |held| {
        let exact = if held.is_exact { "" } else { ", not exact" };
        format!(" ({} to {}, {:.0} %{exact})", figures(held.low), figures(held.high), held.level * 100.0)
    });
    reply.line("");
    reply.line(format!(
        "Slope {} {unit} a {counter} ({} to {}, 90 %){robust}{held}.",
        figures(line.slope),
        figures(line.slope_low),
        figures(line.slope_high)
    ));
    let share = line.r_squared.map(|share| format!(", R² {share:.3}")).unwrap_or_default();
    reply.line(format!("{} readings, scatter {} {unit}{share}.", line.points, figures(line.residual_sd)));
}

fn row(series: &WearSeries, reading: &TrendReading, zone: Tz) -> [Cell; 6] {
    [
        Cell::plain(show_short(reading.at, zone)),
        Cell::maybe(reading.tag.as_ref()),
        Cell::plain(count(series, reading.count)),
        Cell::of(reading.value),
        Cell::maybe(reading.class),
        Cell::plain(if reading.is_fitted { "yes" } else { "no" }),
    ]
}

fn limit_row(series: &WearSeries, limit: &LimitForecast) -> [Cell; 8] {
    let left = |left: f64| Cell::number(left, 1);
    [
        Cell::plain(limit.severity.as_str()),
        Cell::of(limit.limit),
        Cell::number(limit.at_count, 1),
        if limit.is_reached { Cell::plain("reached") } else { left(limit.count_left) },
        if limit.is_reached { Cell::plain("reached") } else { left(limit.earliest_left) },
        limit.robust_left.map_or_else(|| Cell::maybe(None::<&str>), left),
        Cell::maybe(limit.on.filter(|_| series.rate.is_some())),
        Cell::maybe(limit.earliest_on),
    ]
}

const CSV_COLUMNS: [&str; 13] = [
    "component",
    "quantity",
    "unit",
    "row",
    "at",
    "counter",
    "count",
    "value",
    "is_fitted",
    "count_left",
    "earliest_left",
    "on",
    "earliest_on",
];

/// Readings and limits as rows of one table: `row` is `reading`, or the class of the limit.
fn csv(table: &mut Table, component: &str, series: &WearSeries) {
    let head = |row: &str| {
        [component, &series.quantity, &series.unit, row].map(|text| Cell::plain(text.to_owned())).into_iter()
    };
    let none = || Cell::maybe(None::<&str>);
    let counter = || Cell::plain(series.counter.as_str());
    for reading in &series.readings {
        let cells = [
            Cell::plain(reading.at.to_string()),
            counter(),
            Cell::of(reading.count),
            Cell::of(reading.value),
            Cell::of(reading.is_fitted),
        ];
        table.push(head("reading").chain(cells).chain([none(), none(), none(), none()]));
    }
    for limit in &series.forecast {
        table.push(head(limit.severity.as_str()).chain([
            none(),
            counter(),
            Cell::of(limit.at_count),
            Cell::of(limit.limit),
            none(),
            Cell::of(limit.count_left),
            Cell::of(limit.earliest_left),
            Cell::maybe(limit.on),
            Cell::maybe(limit.earliest_on),
        ]));
    }
}

/// A count as people read it: whole numbers whole.
fn count(series: &WearSeries, value: f64) -> String {
    match series.counter {
        WearCounter::AirtimeH | WearCounter::Days => format!("{value:.1}"),
        _ => format!("{value:.0}"),
    }
}

/// Four figures that count, without a forest of zeros.
fn figures(value: f64) -> String {
    let size = value.abs();
    match size {
        0.0 => "0".to_owned(),
        _ if size >= 100.0 => format!("{value:.1}"),
        _ if size >= 1.0 => format!("{value:.3}"),
        _ if size >= 0.01 => format!("{value:.4}"),
        _ if size >= 0.000_1 => format!("{value:.6}"),
        _ => format!("{value:.3e}"),
    }
}

fn one(counter: WearCounter) -> &'static str {
    match counter {
        WearCounter::Flights => "flight",
        WearCounter::Launches => "launch",
        WearCounter::AirtimeH => "hour in the air",
        WearCounter::MotorS => "motor second",
        WearCounter::Riggings => "rigging",
        WearCounter::Matings => "mating",
        WearCounter::Charges => "charge",
        WearCounter::Reterminations => "re-termination",
        WearCounter::Days => "day",
    }
}

fn upper(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map(|first| first.to_uppercase().chain(letters).collect()).unwrap_or_default()
}
