//! Mark 1: how every check of every model stands and how much every component was used, from a warm Fleet, in states and
//! numbers as the due list and the board are made of; beside one SQL join for each over the same rows, and beside bare loops
//! over sorted arrays with running sums. All three come to the same numbers. The due list with its texts and forecasts is
//! told beside them.

use std::hint::black_box;
use std::time::Instant as Stopwatch;

use diesel::connection::SimpleConnection;
use diesel::prelude::*;
use diesel::sql_types::BigInt;
use preen_domain::answers::{ModelDue, due, due_states, usage_of_components};
use preen_domain::facts::Fact;
use preen_domain::fleet::{Fleet, Usage};
use preen_domain::ids::{ComponentId, ModelId};
use preen_domain::words::Counter;

use crate::club::{self, Extent, GROUPS};
use crate::fleet::{by_turns, fleet, median, moment};
use crate::marks::{Mark, Sense};

/// How often something was used: flights, launches, motor time in s, riggings.
type Used = [i64; 4];

/// What is asked: for each check with a counter among the four what it counted since it was done, and the use of each
/// component since it came in.
#[derive(Debug, Default, PartialEq, Eq)]
struct States {
    checks: Vec<i64>,
    components: Vec<Used>,
}

/// Which of the four a group counts.
fn counted(group: usize) -> Option<usize> {
    match GROUPS[group].1?.0 {
        Counter::Flights => Some(0),
        Counter::Launches => Some(1),
        Counter::MotorS => Some(2),
        Counter::Riggings => Some(3),
        Counter::AirtimeH | Counter::Matings | Counter::Charges => None,
    }
}

/// What the product answers.
type Answered<'a> = (Vec<ModelDue<'a>>, Vec<(ComponentId, Usage)>);

fn by_fleet(fleet: &Fleet) -> Answered<'_> {
    (due_states(fleet, moment()), usage_of_components(fleet, moment().as_of))
}

/// The same as numbers alone.
fn numbers((list, used): Answered<'_>) -> States {
    let counted = list.iter().flat_map(|model| &model.groups).filter_map(|group| group.counted);
    let four = counted.filter(|counted| counted.counter != Counter::AirtimeH);
    let used = used.into_iter().map(|(_, usage)| usage);
    States {
        checks: four.map(|counted| counted.now - counted.done.unwrap()).collect(),
        components: used
            .map(|usage| {
                [usage.flights, usage.launches, usage.motor_s, usage.riggings].map(|count| count as i64)
            })
            .collect(),
    }
}

/// Rows of usage of one model in the order of time, with running sums.
#[derive(Default)]
struct Bare {
    at: Vec<i64>,
    sums: Vec<Used>,
    done_at: [i64; GROUPS.len()],
}

impl Bare {
    fn used(&self, from: i64, to: i64) -> Used {
        let before = |at: i64| {
            let index = self.at.partition_point(|row| *row < at);
            if index == 0 { [0; 4] } else { self.sums[index - 1] }
        };
        let (low, high) = (before(from), before(to));
        std::array::from_fn(|of| high[of] - low[of])
    }
}

/// Everything that the three are made of.
struct Rows {
    models: Vec<Bare>,
    /// The number of the model of each component, and since when it is there.
    components: Vec<(usize, i64)>,
}

fn rows(extent: Extent, fleet: &Fleet, components: &[ComponentId]) -> Rows {
    let numbers: std::collections::HashMap<ModelId, usize> =
        (0..extent.models).map(|number| (club::model(number), number as usize)).collect();
    let mut models: Vec<Vec<(i64, Used)>> = vec![Vec::new(); extent.models as usize];
    let mut done_at = vec![[i64::MIN; GROUPS.len()]; extent.models as usize];
    for fact in club::usage(extent) {
        match fact {
            Fact::Flight(flight) => models[numbers[&flight.model]].push((
                flight.occurred_at.micros(),
                [1, i64::from(flight.launches), i64::from(flight.motor_s), 0],
            )),
            Fact::Rigging(rigging) => {
                models[numbers[&rigging.model]]
                    .push((rigging.occurred_at.micros(), [0, 0, 0, i64::from(rigging.cycles)]));
            }
            Fact::Inspection(check) => {
                let group = GROUPS.iter().position(|(code, ..)| *code == check.group.as_str()).unwrap();
                let done = &mut done_at[numbers[&check.model.unwrap()]][group];
                *done = check.occurred_at.micros().max(*done);
            }
            other => panic!("{} among the usage", other.noun()),
        }
    }
    let models = models.into_iter().zip(done_at).map(|(mut rows, done_at)| {
        rows.sort_unstable();
        let mut bare = Bare { done_at, ..Bare::default() };
        let mut sum = [0; 4];
        for (at, used) in rows {
            sum = std::array::from_fn(|of| sum[of] + used[of]);
            bare.at.push(at);
            bare.sums.push(sum);
        }
        bare
    });
    let place = |id: &ComponentId| {
        let span = fleet.model_spans(*id).pop().unwrap();
        (numbers[&span.model], span.from.micros())
    };
    Rows { models: models.collect(), components: components.iter().map(place).collect() }
}

fn by_loops(rows: &Rows, order: &[usize], end: i64) -> States {
    let mut states = States::default();
    for model in order.iter().map(|number| &rows.models[*number]) {
        for group in 0..GROUPS.len() {
            let used = model.used(model.done_at[group], end);
            if let Some(of) = counted(group) {
                states.checks.push(used[of]);
            }
        }
    }
    states
        .components
        .extend(rows.components.iter().map(|(model, from)| rows.models[*model].used(*from, end)));
    states
}

#[derive(QueryableByName)]
struct Row {
    #[diesel(sql_type = BigInt)]
    one: i64,
    #[diesel(sql_type = BigInt)]
    other: i64,
    #[diesel(sql_type = BigInt)]
    flights: i64,
    #[diesel(sql_type = BigInt)]
    launches: i64,
    #[diesel(sql_type = BigInt)]
    motor_s: i64,
    #[diesel(sql_type = BigInt)]
    riggings: i64,
}

impl Row {
    fn used(&self) -> Used {
        [self.flights, self.launches, self.motor_s, self.riggings]
    }
}

/// The rows in tables, with an index that covers the join.
fn tables(rows: &Rows) -> SqliteConnection {
    let mut conn = SqliteConnection::establish(":memory:").unwrap();
    conn.batch_execute(
        "CREATE TABLE usage (model INTEGER, at INTEGER, flights INTEGER, launches INTEGER, motor_s INTEGER, riggings INTEGER);
         CREATE TABLE done (model INTEGER, grp INTEGER, at INTEGER, PRIMARY KEY (model, grp)) WITHOUT ROWID;
         CREATE TABLE seated (component INTEGER PRIMARY KEY, model INTEGER, at INTEGER);",
    )
    .unwrap();
    let put = |conn: &mut SqliteConnection, text: String| conn.batch_execute(&text).unwrap();
    conn.batch_execute("BEGIN").unwrap();
    for (number, model) in rows.models.iter().enumerate() {
        let mut last = [0; 4];
        let values: Vec<String> = model
            .at
            .iter()
            .zip(&model.sums)
            .map(|(at, sums)| {
                let [flights, launches, motor_s, riggings] = std::array::from_fn(|of| sums[of] - last[of]);
                last = *sums;
                format!("({number},{at},{flights},{launches},{motor_s},{riggings})")
            })
            .collect();
        put(&mut conn, format!("INSERT INTO usage VALUES {}", values.join(",")));
        let done: Vec<String> =
            model.done_at.iter().enumerate().map(|(group, at)| format!("({number},{group},{at})")).collect();
        put(&mut conn, format!("INSERT INTO done VALUES {}", done.join(",")));
    }
    for (number, (model, from)) in rows.components.iter().enumerate() {
        put(&mut conn, format!("INSERT INTO seated VALUES ({number},{model},{from})"));
    }
    conn.batch_execute(
        "COMMIT; CREATE INDEX covering ON usage (model, at, flights, launches, motor_s, riggings); ANALYZE;",
    )
    .unwrap();
    conn
}

fn by_join(conn: &mut SqliteConnection, order: &[usize], end: i64) -> States {
    let sums = "SUM(u.flights) AS flights, SUM(u.launches) AS launches, SUM(u.motor_s) AS motor_s, SUM(u.riggings) AS riggings";
    let checks: Vec<Row> = diesel::sql_query(format!(
        "SELECT d.model AS one, d.grp AS other, {sums} FROM done d \
         JOIN usage u ON u.model = d.model AND u.at >= d.at AND u.at < ? GROUP BY d.model, d.grp"
    ))
    .bind::<BigInt, _>(end)
    .load(conn)
    .unwrap();
    let components: Vec<Row> = diesel::sql_query(format!(
        "SELECT s.component AS one, 0 AS other, {sums} FROM seated s \
         JOIN usage u ON u.model = s.model AND u.at >= s.at AND u.at < ? GROUP BY s.component"
    ))
    .bind::<BigInt, _>(end)
    .load(conn)
    .unwrap();
    // Joins leave out what has nothing on the other side: that was used 0 times.
    let mut of_checks = vec![[[0; 4]; GROUPS.len()]; order.len()];
    for row in &checks {
        of_checks[row.one as usize][row.other as usize] = row.used();
    }
    let mut of_components = vec![[0; 4]; 0];
    for row in &components {
        of_components.resize(of_components.len().max(row.one as usize), [0; 4]);
        of_components.push(row.used());
    }
    let mut states = States { components: of_components, ..States::default() };
    for number in order {
        let of = (0..GROUPS.len()).filter_map(|group| Some(of_checks[*number][group][counted(group)?]));
        states.checks.extend(of);
    }
    states
}

/// Measures all three.
pub fn measure(extent: Extent, rounds: usize) -> Vec<Mark> {
    let fleet = fleet(extent);
    let components: Vec<ComponentId> = fleet.components().map(|(id, _)| id).collect();
    let rows = rows(extent, &fleet, &components);
    let mut conn = tables(&rows);
    // The product lists models by tag.
    let mut order: Vec<usize> = (0..extent.models as usize).collect();
    order.sort_by_key(|number| fleet.model_tag(club::model(*number as u32)));
    let end = moment().as_of.micros() + 1;
    let (product, loops) = (numbers(by_fleet(&fleet)), by_loops(&rows, &order, end));
    assert_eq!(product, loops, "Fleet and loops");
    let mut join_ms = Vec::new();
    for _ in 0..rounds.div_ceil(3) {
        let started = Stopwatch::now();
        let join = by_join(&mut conn, &order, end);
        join_ms.push(started.elapsed().as_secs_f64() * 1e3);
        assert_eq!(product, join, "Fleet and join");
    }
    let join_ms = median(join_ms);
    let [fleet_ms, loops_ms, list_ms] = by_turns(
        rounds,
        [
            &mut || drop(black_box(by_fleet(&fleet))),
            &mut || drop(black_box(by_loops(&rows, &order, end))),
            &mut || drop(black_box(due(&fleet, moment()))),
        ],
    );
    let size = format!(
        "{} checks and {} components over {} rows of usage: {fleet_ms:.1} ms",
        extent.models as usize * GROUPS.len(),
        components.len(),
        extent.models * extent.usage
    );
    vec![
        Mark::ratio(
            "1",
            "due states of the fleet beside one join",
            join_ms / fleet_ms,
            Sense::AtLeast(200.0),
            format!("{size}; join in embedded SQLite {join_ms:.0} ms"),
        ),
        Mark::ratio(
            "1",
            "due states of the fleet beside bare loops",
            fleet_ms / loops_ms,
            Sense::AtMost(2.0),
            format!("{size}; loops {loops_ms:.2} ms"),
        ),
        Mark::figure(
            "1",
            "the due list of the same checks, with texts and forecasts",
            list_ms,
            "ms",
            Sense::Told,
            String::new(),
        ),
    ]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn fleet_join_and_loops_come_to_the_same() {
        let marks = measure(Extent::TINY, 1);
        assert_eq!(marks.len(), 3);
        assert!(marks.iter().all(|mark| mark.figure > 0.0));
    }
}
