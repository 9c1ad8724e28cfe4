//! How repairs of systems are shown: the trend of each with its tests, and the mean of all by age.

use preen_domain::answers::compute::{RepairTrend, RepairsAnswer};

use crate::output::{Block, Cell, Reply, Table, left, right};

/// Most rows of the mean that are shown; --json has all.
const MOST_ROWS: usize = 40;

/// System by system, then all together. As rows where nothing else is.
pub fn tell_repairs(reply: &mut Reply, answer: &RepairsAnswer, unit: &str, is_all: bool) {
    let mut table = Table::new([
        left("system"),
        right("failures"),
        right(format!("watched {unit}")),
        left("trend"),
        right("Laplace z"),
        right("handbook p"),
        right("arrangement p"),
        right("shape"),
        right("MTBF now"),
        right("at least"),
        right("at most"),
    ]);
    let number = |value: Option<f64>, decimals: usize| {
        Cell::plain(value.map_or_else(String::new, |value| format!("{value:.decimals$}")))
    };
    for system in &answer.systems {
        let smaller = |improving: f64, worsening: f64| improving.min(worsening);
        table.push([
            Cell::plain(system.system.as_str()),
            Cell::of(system.failures),
            number(Some(system.watched_until), 0),
            Cell::plain(match system.trend {
                RepairTrend::Improving => "improving",
                RepairTrend::Worsening => "worsening",
                RepairTrend::NotShown => "not shown",
            }),
            number(system.laplace.map(|test| test.z), 2),
            number(system.handbook.map(|test| smaller(test.p_improving, test.p_worsening)), 4),
            number(system.arrangement.map(|test| smaller(test.p_improving, test.p_worsening)), 4),
            number(system.law.and_then(|law| law.beta_unbiased), 3),
            number(system.now.map(|now| now.mtbf), 1),
            number(system.now.map(|now| now.low), 1),
            number(system.now.and_then(|now| now.high), 1),
        ]);
    }
    if is_all {
        reply.csv = table.clone();
    }
    reply.blocks.push(Block::Table(table));
    reply.line("");
    for system in &answer.systems {
        reply.line(format!("{}.", system.says));
    }
    if !answer.mean.is_empty() {
        let mut mean = Table::new([
            right(unit),
            right("at risk"),
            right("repairs"),
            right("mean per system"),
            right("low"),
            right("high"),
        ]);
        for point in answer.mean.iter().take(MOST_ROWS) {
            mean.push([
                number(Some(point.at), 0),
                Cell::of(point.at_risk),
                Cell::of(point.repairs),
                number(Some(point.mean), 3),
                number(Some(point.low), 3),
                number(Some(point.high), 3),
            ]);
        }
        reply.line("");
        reply.line(format!("Repairs per system by {unit}"));
        reply.blocks.push(Block::Table(mean));
        if answer.mean.len() > MOST_ROWS {
            reply.line(format!("{} more ages stand in --json.", answer.mean.len() - MOST_ROWS));
        }
    }
    reply.line("");
    reply.line(format!("Method: {}.", answer.method));
}
