//! What a reading stands for, where its limits are in another quantity: capacity against rated, cells at 25 °C against
//! new, the odd cell at rest, currents against the first reading of the same series, slack less what was used since,
//! rock of the tip as clearance of the joiner. The formulas are those of the bench.

use crate::{
    facts::{Measurement, Position, Subject},
    fleet::Fleet,
    formulas::{
        class::ClassLimits,
        joiner::rock::clearance_mm,
        pack::{
            capacity::capacity_left,
            resistance::{ReadingUncertainty, pack_resistance},
            rest::rest_drop,
        },
    },
    ids::ComponentId,
    time::Instant,
};

/// What a reading is judged as.
#[derive(Debug, Clone, PartialEq)]
pub struct Worked {
    /// The quantity of the limits.
    pub quantity: String,
    /// Their unit.
    pub unit: String,
    /// The values in that unit.
    pub values: Vec<f64>,
    /// How they came about, for people; absent for a reading as it was read.
    pub how: Option<String>,
    /// Kind of position whose limits hold, where that is not the one the part sits in.
    pub position_kind: Option<String>,
    /// Whether only limits of the club's own hold, because the programme's are worked out from others.
    pub is_club_only: bool,
    /// Decimals that are shown; absent: as it was read.
    decimals: Option<usize>,
}

impl Worked {
    fn read(reading: &Measurement) -> Self {
        Self {
            quantity: reading.quantity.to_string(),
            unit: reading.unit.to_string(),
            values: reading.values.clone(),
            how: None,
            position_kind: None,
            is_club_only: false,
            decimals: None,
        }
    }

    fn out(quantity: &str, unit: &str, values: Vec<f64>, decimals: usize, how: String) -> Self {
        Self {
            quantity: quantity.to_owned(),
            unit: unit.to_owned(),
            values,
            how: Some(how),
            position_kind: None,
            is_club_only: false,
            decimals: Some(decimals),
        }
    }

    /// A value to the digits that are shown.
    #[must_use]
    pub fn shown(&self, value: f64) -> f64 {
        match self.decimals {
            Some(decimals) => format!("{value:.decimals$}").parse().unwrap_or(value),
            None => value,
        }
    }
}

/// Everything that a reading is judged as: itself, and what it stands for. A formula that has no answer for it adds
/// nothing.
#[must_use]
pub fn work_out(fleet: &Fleet, reading: &Measurement, seats: &[&Position], as_of: Instant) -> Vec<Worked> {
    let mut list = vec![Worked::read(reading)];
    let component = match reading.subject {
        Subject::Component(component) => Some(component),
        Subject::Model(_) => None,
    };
    match (reading.quantity.as_str(), reading.unit.as_str()) {
        ("capacity", "mAh") => list.extend(component.and_then(|id| of_rated(fleet, id, reading))),
        ("cell_resistance", "mOhm") => list.extend(component.and_then(|id| ratio_to_new(fleet, id, reading))),
        ("storage_drop_30d", "mV") => list.extend(odd_cell(reading)),
        ("servo_idle_current", _) => list.extend(component.and_then(|id| against_first(fleet, id, reading))),
        ("servo_stall_current", _) => list.extend(component.and_then(|id| against_first(fleet, id, reading))),
        ("lead_slack", "mm") => {
            if let Some(used_mm) = component.map(|id| slack_used_mm(fleet, id, reading.occurred_at, as_of))
                && used_mm > 0.0
            {
                let left = reading.values.iter().map(|value| value - used_mm).collect();
                let read = join(&reading.values);
                let how = format!("{read} mm read, {used_mm} mm used by re-terminations since");
                list = vec![Worked::out("lead_slack", "mm", left, 1, how)];
            }
        }
        ("tip_rock_total", "mm") => {
            let joints: Vec<Worked> = seats.iter().filter_map(|seat| as_clearance(reading, seat)).collect();
            if let (false, Some(read)) = (joints.is_empty(), list.first_mut()) {
                read.is_club_only = true;
            }
            list.extend(joints);
        }
        _ => {}
    }
    list
}

fn of_rated(fleet: &Fleet, component: ComponentId, reading: &Measurement) -> Option<Worked> {
    let rated_mah = fleet.part_of(component)?.rated_capacity_mah?;
    let none = ClassLimits::default();
    let values: Option<Vec<f64>> = reading
        .values
        .iter()
        .map(|value| capacity_left(*value, rated_mah, &none).ok().map(|left| left.of_rated_pct))
        .collect();
    let how = format!("{} mAh of {rated_mah} rated", join(&reading.values));
    Some(Worked::out("capacity_of_rated", "%", values?, 1, how))
}

fn ratio_to_new(fleet: &Fleet, component: ComponentId, reading: &Measurement) -> Option<Worked> {
    let new_mohm = &fleet.part_of(component)?.new_cell_mohm;
    let temperature_c = reading.temperature_c?;
    let none = ClassLimits::default();
    let pack =
        pack_resistance(&reading.values, temperature_c, new_mohm, &none, ReadingUncertainty::default())
            .ok()?;
    let ratios: Option<Vec<f64>> = pack.cells.iter().map(|cell| cell.ratio_to_new).collect();
    let at_25: Vec<String> = pack.cells.iter().map(|cell| format!("{:.2}", cell.at_25_mohm)).collect();
    let how = format!(
        "{} mΩ at {temperature_c} °C, {} at 25 °C, new {}",
        join(&reading.values),
        at_25.join("/"),
        join(new_mohm)
    );
    Some(Worked::out("cell_resistance_ratio", "x new", ratios?, 2, how))
}

fn odd_cell(reading: &Measurement) -> Option<Worked> {
    let drop = rest_drop(&reading.values, 30.0, &ClassLimits::default()).ok()?;
    let (cell, odd_mv) = (drop.odd_cell?, drop.odd_mv?);
    let how = format!("{} mV in 30 days, cell {cell} beyond the median", join(&reading.values));
    Some(Worked::out("storage_drop_odd_cell", "mV", vec![odd_mv], 1, how))
}

/// By how many per cent of the first reading of its series a current has changed, up or down.
fn against_first(fleet: &Fleet, component: ComponentId, reading: &Measurement) -> Option<Worked> {
    let series = fleet.component(component)?.measurements.until(reading.occurred_at);
    let mut first = reading;
    let own = series.iter().rev().map(|known| &known.fact);
    for known in own.filter(|known| known.quantity == reading.quantity && known.id != reading.id) {
        if known.unit != reading.unit || known.method != reading.method || first.is_series_start {
            break;
        }
        first = known;
    }
    let as_new = first.values.first().copied().filter(|value| *value > 0.0 && first.id != reading.id)?;
    let values = reading.values.iter().map(|value| 100.0 * (value - as_new).abs() / as_new).collect();
    let how = format!("{} {} against {as_new} as new", join(&reading.values), reading.unit);
    Some(Worked::out(&format!("{}_change", reading.quantity), "%", values, 1, how))
}

/// The clearance that a rock of the tip stands for, where the joint's sizes are known.
fn as_clearance(reading: &Measurement, seat: &Position) -> Option<Worked> {
    let joint = seat.joint?;
    // The hair keeps a reading exactly on a limit in its class through the division.
    let values: Option<Vec<f64>> = reading
        .values
        .iter()
        .map(|value| clearance_mm(*value, &joint).ok().map(|mm| mm * (1.0 + 1e-12)))
        .collect();
    let how = format!(
        "{} mm of rock at {} mm from the joint, {} mm inside the socket",
        join(&reading.values),
        joint.panel_mm,
        joint.engagement_mm
    );
    let worked = Worked::out("joiner_clearance_vertical", "mm", values?, 3, how);
    Some(Worked { position_kind: Some(seat.kind.to_string()), ..worked })
}

/// Lead used up by re-terminations after a moment, mm.
fn slack_used_mm(fleet: &Fleet, component: ComponentId, after: Instant, as_of: Instant) -> f64 {
    let ids = fleet.component(component).map_or(&[][..], |file| file.repairs.as_slice());
    ids.iter()
        .filter_map(|id| Some(&fleet.repair(*id)?.repair.as_ref()?.fact))
        .filter(|repair| repair.occurred_at > after && repair.occurred_at <= as_of)
        .filter_map(|repair| repair.slack_used_mm)
        .sum()
}

/// The slack of a lead at a connector.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SlackNow {
    /// What is left, mm: never below 0.
    pub slack_mm: f64,
    /// What was read, mm.
    pub read_mm: f64,
    /// When.
    pub read_at: Instant,
    /// What re-terminations used since, mm.
    pub used_mm: f64,
}

/// Slack by the newest reading, less what re-terminations used since; `None` where none was read.
#[must_use]
pub fn slack_now(fleet: &Fleet, component: ComponentId, as_of: Instant) -> Option<SlackNow> {
    let readings = fleet.component(component)?.measurements.until(as_of);
    let newest = readings.iter().rfind(|reading| {
        reading.fact.quantity.as_str() == "lead_slack" && reading.fact.unit.as_str() == "mm"
    })?;
    let read_mm = newest.fact.values.iter().copied().reduce(f64::min)?;
    let read_at = newest.fact.occurred_at;
    let used_mm = slack_used_mm(fleet, component, read_at, as_of);
    Some(SlackNow { slack_mm: (read_mm - used_mm).max(0.0), read_mm, read_at, used_mm })
}

fn join(values: &[f64]) -> String {
    values.iter().map(f64::to_string).collect::<Vec<_>>().join("/")
}
