//! The shapes of the trend answer. Units that depend on what was read stand beside the numbers.

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::{
    formulas::trend::theil_sen::RobustInterval,
    time::Instant,
    words::{Direction, Severity, WearCounter},
};

/// What is asked of a part's wear.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct TrendQuestion {
    /// One quantity; absent: all that were read.
    pub quantity: Option<String>,
    /// The use to count; absent: what drives the wear of such a part.
    pub by: Option<WearCounter>,
    /// Fit all readings; refused where a series started anew.
    pub is_whole_history: bool,
}

/// How a part wears.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct ComponentTrend {
    /// Tag of the component.
    pub component: String,
    /// Tag of its type.
    pub part: Option<String>,
    /// Model or panel and path it sits in; null when it is loose.
    pub place: Option<String>,
    /// One series a quantity asked about.
    pub series: Vec<WearSeries>,
    /// All quantities that were read on it.
    pub quantities: Vec<String>,
}

/// The readings of one quantity and what they show.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct WearSeries {
    /// What was read.
    pub quantity: String,
    /// Unit of all values and limits.
    pub unit: String,
    /// How it was read last.
    pub method: Option<String>,
    /// Kind of position the part did its work in.
    pub duty: Option<String>,
    /// What the use is counted in.
    pub counter: WearCounter,
    /// What the reader should know of the counter.
    pub counter_note: Option<String>,
    /// From where the use is counted.
    pub counted_from: CountedFrom,
    /// Use by now.
    pub now_count: f64,
    /// All readings, oldest first; only those since the last restart are fitted.
    pub readings: Vec<TrendReading>,
    /// What started the series anew, oldest first.
    pub restarts: Vec<String>,
    /// The limits known for it; null when there is none.
    pub limits: Option<WearLimits>,
    /// The line through the readings since the last restart.
    pub line: Option<WearLine>,
    /// How fast the use is counted lately; null when nobody can say.
    pub rate: Option<UseRate>,
    /// When each limit will be reached.
    pub forecast: Vec<LimitForecast>,
    /// Why there is no forecast.
    pub refusal: Option<Refusal>,
}

/// From where use is counted.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct CountedFrom {
    /// The moment; null: from the start of the record.
    pub at: Option<Instant>,
    /// In words.
    pub text: String,
}

/// One reading.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct TrendReading {
    /// Its number in the club's log.
    pub tag: Option<String>,
    /// When it was read.
    pub at: Instant,
    /// Use by then: from `counted_from` for those that are fitted, on record for those before.
    pub count: f64,
    /// The value; the worst of several cells or contacts.
    pub value: f64,
    /// The class it is in; null: good.
    pub class: Option<Severity>,
    /// Whether it belongs to the series that is fitted.
    pub is_fitted: bool,
    /// What was noted.
    pub note: Option<String>,
}

/// The limits of a quantity, in its unit.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct WearLimits {
    /// On which side the trouble lies.
    pub direction: Direction,
    /// Watch it from here.
    pub watch: Option<f64>,
    /// Restrict from here.
    pub restrict: Option<f64>,
    /// Ground from here.
    pub ground: Option<f64>,
}

/// The least-squares line and the robust slope beside it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct WearLine {
    /// Growth per count, unit of the readings per count.
    pub slope: f64,
    /// Standard error of the slope.
    pub slope_se: f64,
    /// Lower bound of the slope, 90 % two-sided.
    pub slope_low: f64,
    /// Upper bound of the slope.
    pub slope_high: f64,
    /// Value at count 0.
    pub intercept: f64,
    /// Scatter of the readings about the line, standard deviation.
    pub residual_sd: f64,
    /// Share of the spread explained; null without spread.
    pub r_squared: Option<f64>,
    /// Readings fitted.
    pub points: usize,
    /// Robust slope: median over all pairs of readings.
    pub robust_slope: Option<f64>,
    /// Interval of the robust slope.
    pub robust_interval: Option<RobustInterval>,
    /// How it was computed.
    pub method: String,
}

/// How fast use is counted.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct UseRate {
    /// Per day.
    pub per_day: f64,
    /// Lower 90 % bound.
    pub low_per_day: f64,
    /// Upper 90 % bound.
    pub high_per_day: f64,
    /// Over how many days it was counted.
    pub days: u32,
    /// Where it comes from.
    pub text: String,
}

/// When a limit will be reached.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct LimitForecast {
    /// Class from there on.
    pub severity: Severity,
    /// The limit.
    pub limit: f64,
    /// Whether the last reading has reached it.
    pub is_reached: bool,
    /// Count at which the line meets it.
    pub at_count: f64,
    /// Counts left until then; 0 once it is past.
    pub count_left: f64,
    /// Count at which the one-sided 95 % prediction band first meets it; null when the band lies beyond it at every
    /// count.
    pub earliest_count: Option<f64>,
    /// Counts left until the earliest; 0 when it may have been reached.
    pub earliest_left: f64,
    /// Count at which the far edge of the band meets it; null when the growth is too unsure to name one.
    pub latest_count: Option<f64>,
    /// Counts left by the robust slope.
    pub robust_left: Option<f64>,
    /// Day at the counted rate; null without a rate or beyond ten years.
    pub on: Option<NaiveDate>,
    /// Day of the earliest at the counted rate.
    pub earliest_on: Option<NaiveDate>,
    /// In a sentence.
    pub text: String,
}

/// Why there is no forecast.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct Refusal {
    /// Stable code.
    pub code: String,
    /// In a sentence.
    pub text: String,
}

impl Refusal {
    pub(super) fn new(code: &str, text: impl Into<String>) -> Self {
        Self { code: code.to_owned(), text: text.into() }
    }
}
