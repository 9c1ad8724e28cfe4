//! How answers about lives are shown: batch by batch with the bound before the estimate, then batch against batch, by
//! failures and by measured wear.

use preen_domain::answers::compute::SurvivalAnswer;
use preen_domain::answers::{GroupComparison, GroupLife, KindLife, PartLife, PartLifeRow, WearGrowth};

use super::life_repairs::tell_repairs;
use crate::output::{Block, Cell, Reply, Table, left, right};

/// Lives from a file.
pub fn tell_bench(json: String, answer: &SurvivalAnswer) -> Reply {
    let mut reply = Reply { json, ..Reply::default() };
    reply.csv = Table::new(columns(&[]));
    if !answer.groups.is_empty() {
        tell_groups(&mut reply, &answer.groups, &answer.comparisons, &answer.unit);
        for group in &answer.groups {
            reply.csv.push(row(group, Vec::new()));
            tell_survival(&mut reply, group, &answer.unit);
        }
        reply.line("");
        reply.line(format!("Method: {}.", answer.method));
    }
    if let Some(repairs) = &answer.repairs {
        if !answer.groups.is_empty() {
            reply.line("");
        }
        tell_repairs(&mut reply, repairs, &answer.unit, answer.groups.is_empty());
    }
    reply
}

/// The club's own parts.
pub fn tell_record(json: String, answer: &PartLife, frame: String, shows_parts: bool) -> Reply {
    let mut reply = Reply { json, ..Reply::default() };
    reply.csv = Table::new(columns(&["part", "position_kind"]));
    reply.line(format!("How long {} lasts, counted in {}", answer.part, answer.unit));
    reply.line(frame);
    if answer.kinds.is_empty() {
        reply.line("No part of the type ever sat in a position asked about.");
        reply.hint(format!("`preen where --part {}` shows where its parts are.", answer.part));
    }
    for kind in &answer.kinds {
        reply.line("");
        reply.line(format!("As {}", kind.position_kind));
        tell_groups(&mut reply, &kind.groups, &kind.comparisons, &answer.unit);
        kind.wear.iter().for_each(|wear| tell_wear(&mut reply, wear));
        if shows_parts {
            reply.line("");
            reply.blocks.push(Block::Table(parts(kind)));
        }
        for group in &kind.groups {
            let lead = vec![Cell::plain(answer.part.as_str()), Cell::plain(kind.position_kind.as_str())];
            reply.csv.push(row(group, lead));
        }
        for note in &kind.notes {
            reply.line(format!("Note: {note}."));
        }
    }
    if !shows_parts && !answer.kinds.is_empty() {
        reply.hint("--parts lists every part with how its life stands.");
    }
    reply
}

fn tell_groups(reply: &mut Reply, groups: &[GroupLife], comparisons: &[GroupComparison], unit: &str) {
    let mut table = Table::new([
        left("group"),
        right("lives"),
        right("failed"),
        right(unit),
        right("MTBF at least"),
        right("at most"),
        right("by the count"),
        left("Weibull shape"),
    ]);
    for group in groups {
        let mtbf = &group.mtbf;
        table.push([
            Cell::plain(group.group.as_str()),
            Cell::of(group.lives),
            Cell::of(group.failures),
            Cell::plain(figure(mtbf.exposure)),
            Cell::plain(figure(mtbf.low)),
            Cell::plain(mtbf.high.map_or_else(|| "not bounded".to_owned(), figure)),
            Cell::plain(mtbf.mtbf.map_or_else(|| "none failed".to_owned(), figure)),
            Cell::plain(shape(group)),
        ]);
    }
    reply.blocks.push(Block::Table(table));
    if let Some(group) = groups.first() {
        reply.line(format!("Each bound holds with {:.0} %.", 100.0 * group.mtbf.one_sided_confidence));
    }
    for pair in comparisons {
        let overlap = if pair.is_bounds_overlap { "overlap" } else { "do not overlap" };
        reply.line(format!("By failures, {}; the bounds {overlap}.", pair.says));
        if let Some(test) = &pair.log_rank {
            reply.line(format!("  log-rank test: chi-square {:.2}, p {:.4}", test.chi_square, test.p));
        }
    }
}

fn shape(group: &GroupLife) -> String {
    match &group.weibull {
        Some(law) => format!("{:.2} ({:.2} to {:.2})", law.beta.value, law.beta.low, law.beta.high),
        None => "not shown".to_owned(),
    }
}

fn tell_survival(reply: &mut Reply, group: &GroupLife, unit: &str) {
    reply.line("");
    reply.line(format!("{}, still good by {unit}", group.group));
    let mut table = Table::new([
        right(unit),
        right("at risk"),
        right("failed"),
        right("share"),
        right("low"),
        right("high"),
    ]);
    let share =
        |share: Option<f64>| Cell::plain(share.map_or_else(String::new, |share| format!("{share:.3}")));
    for step in &group.survival.steps {
        table.push([
            Cell::plain(figure(step.at)),
            Cell::of(step.at_risk),
            Cell::of(step.failed),
            share(Some(step.survival)),
            share(step.low),
            share(step.high),
        ]);
    }
    reply.blocks.push(Block::Table(table));
    if group.survival_from_last_good.is_some() {
        reply.line(
            "Failures are counted where they were found; --json shows the curve from the last good look too.",
        );
    }
    if let Some(law) = &group.weibull {
        for (name, value) in [("scale", law.eta), ("B10", law.b10), ("B50", law.b50)] {
            let (value, low, high) = (figure(value.value), figure(value.low), figure(value.high));
            reply.line(format!("Weibull {name} {value} ({low} to {high}) {unit}"));
        }
        if let Some(caution) = &law.caution {
            reply.line(format!("Caution: {caution}."));
        }
        for stretch in &law.stretches {
            let survival = stretch.survival;
            reply.line(format!(
                "Of those at {}, {:.3} ({:.3} to {:.3}) reach {}",
                figure(stretch.from),
                survival.value,
                survival.low,
                survival.high,
                figure(stretch.to)
            ));
        }
    }
    if let Some(why) = &group.weibull_refused {
        reply.line(format!("No Weibull law: {why}."));
    }
}

fn tell_wear(reply: &mut Reply, wear: &WearGrowth) {
    reply.line("");
    let as_new = wear.as_new.map_or_else(|| "not known".to_owned(), |value| value.to_string());
    let source = &wear.as_new_from;
    reply.line(format!("Growth of {} in {}; as new {as_new} ({source})", wear.quantity, wear.rate_unit));
    let mut table =
        Table::new([left("group"), right("read"), right("mean"), right("lowest"), right("highest")]);
    for group in &wear.groups {
        let rate = |rate: f64| Cell::plain(format!("{rate:.3}"));
        table.push([
            Cell::plain(group.group.as_str()),
            Cell::of(group.parts.len()),
            rate(group.mean_rate),
            rate(group.lowest_rate),
            rate(group.highest_rate),
        ]);
    }
    reply.blocks.push(Block::Table(table));
    for pair in &wear.comparisons {
        reply.line(format!("By measured wear, {}.", pair.says));
    }
}

fn parts(kind: &KindLife) -> Table {
    let mut table =
        Table::new([left("part"), left("batch"), left("life"), right("entered"), right("age"), left("why")]);
    for PartLifeRow { component, batch, life, outcome, entered, age, good_at_age, why, .. } in &kind.parts {
        let age = match good_at_age {
            Some(good) => format!("{} to {}", figure(*good), figure(*age)),
            None => figure(*age),
        };
        table.push([
            Cell::plain(component.as_str()),
            Cell::maybe(batch.as_ref()),
            Cell::plain(if *life == 1 {
                outcome.words().to_owned()
            } else {
                format!("{}, life {life}", outcome.words())
            }),
            Cell::plain(figure(*entered)),
            Cell::plain(age),
            Cell::maybe(why.as_ref()),
        ]);
    }
    table
}

fn columns(lead: &[&'static str]) -> Vec<crate::output::Column> {
    let own = ["group", "lives", "failures", "exposure", "mtbf", "mtbf_low", "mtbf_high", "beta", "eta"];
    lead.iter().copied().chain(own).map(left).collect()
}

fn row(group: &GroupLife, lead: Vec<Cell>) -> Vec<Cell> {
    let mut cells = lead;
    cells.extend([
        Cell::plain(group.group.as_str()),
        Cell::of(group.lives),
        Cell::of(group.failures),
        Cell::of(group.mtbf.exposure),
        Cell::maybe(group.mtbf.mtbf),
        Cell::of(group.mtbf.low),
        Cell::maybe(group.mtbf.high),
        Cell::maybe(group.weibull.as_ref().map(|law| law.beta.value)),
        Cell::maybe(group.weibull.as_ref().map(|law| law.eta.value)),
    ]);
    cells
}

/// Whole from 100 on, else with one decimal where there is one.
fn figure(number: f64) -> String {
    if number.abs() >= 100.0 || number.fract() == 0.0 {
        format!("{number:.0}")
    } else {
        format!("{number:.1}")
    }
}
