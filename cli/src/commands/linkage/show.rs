//! The answer about a linkage for people and as rows: one table a part.

use preen_domain::answers::compute::{CoefficientSource, DeflectionRow, LinkageAnswer, LoadAnswer};
use preen_domain::formulas::linkage::fit::GeometryFit;
use preen_domain::formulas::linkage::mismatch::{Mismatch, MismatchCure, WorstDifference};
use preen_domain::formulas::linkage::proposal::LinkageProposal;
use preen_domain::formulas::linkage::travel::{DeadPoint, DeadPointKind};

use crate::commands::balance::field;
use crate::output::{Block, Cell, Reply, Table, Tone, left, right};

/// All parts that were asked for; the last of them is also the rows.
pub fn show(reply: &mut Reply, answer: &LinkageAnswer) {
    let mut fields = Vec::new();
    fields.extend(answer.rod_mm.map(|mm| field("rod", format!("{mm:.2} mm, hole to hole"))));
    if let Some(travel) = &answer.travel {
        fields.push(field("dead points", [travel.from, travel.to].map(say_dead_point).join(" and ")));
    }
    for one in &answer.differentials {
        let text = format!(
            "{:.2} at ±{}° of servo ({:+.1}° and {:+.1}°)",
            one.ratio, one.servo_deg, one.forward_deg, one.aft_deg
        );
        fields.push(field("differential", text));
    }
    if !fields.is_empty() {
        reply.blocks.push(Block::Fields(fields));
    }
    if !answer.rows.is_empty() {
        part(reply, "", deflections(&answer.rows));
    }
    if !answer.loads.is_empty() {
        part(reply, "Loads", loads(&answer.loads));
        if answer
            .loads
            .iter()
            .any(|load| load.coefficient_source == CoefficientSource::ThinAerofoilBeyondItsRange)
        {
            reply.line("Theory does not hold beyond 15° of deflection: give the coefficient (DEG:SPEED:C).");
        }
    }
    if let Some(mismatch) = &answer.mismatch {
        part(reply, "Right less left", sides(mismatch));
        reply.line("");
        reply.blocks.push(Block::Fields(verdict(mismatch)));
    }
    if !answer.proposals.is_empty() {
        part(
            reply,
            "Sizes that reach the throws wanted, solved forward, least play first",
            sizes(&answer.proposals),
        );
    }
    if let Some(fit) = &answer.fit {
        part(reply, "Geometry behind the measured throws", residuals(fit));
        reply.line("");
        reply.blocks.push(Block::Fields(found(fit)));
    }
    reply.line("");
    reply.line(format!("Method: {}.", answer.method));
    for caution in &answer.cautions {
        reply.line(caution.as_str());
    }
}

fn part(reply: &mut Reply, heading: &str, table: Table) {
    if !reply.blocks.is_empty() {
        reply.line("");
    }
    if !heading.is_empty() {
        reply.line(heading);
    }
    reply.csv = table.clone();
    reply.blocks.push(Block::Table(table));
}

fn say_dead_point(point: Option<DeadPoint>) -> String {
    let Some(point) = point else { return "none".to_owned() };
    let links = match point.kind {
        DeadPointKind::Arm => "arm and rod in line, the surface turns back",
        DeadPointKind::Horn => "horn and rod in line, the linkage locks",
    };
    format!("{:+.1}° ({links})", point.servo_deg)
}

/// Columns that no row fills are left out.
fn deflections(rows: &[DeflectionRow]) -> Table {
    let has = |of: fn(&DeflectionRow) -> bool| rows.iter().any(of);
    let (has_us, has_throw, has_play) = (
        has(|row| row.deflection_deg_per_us.is_some()),
        has(|row| row.throw_mm.is_some()),
        has(|row| row.play.is_some()),
    );
    let mut columns = vec![
        right("servo deg"),
        right("surface deg"),
        right("2u deg"),
        right("plain ratio deg"),
        right("gain"),
    ];
    columns.extend(has_us.then(|| right("deg per us")));
    columns.extend(has_throw.then(|| right("throw mm")));
    if has_play {
        columns.extend([right("servo play mm"), right("hole play mm"), right("play mm")]);
    }
    columns.push(right("rod to horn deg"));
    let mut table = Table::new(columns);
    for row in rows {
        let mut cells = vec![
            Cell::of(row.servo_deg),
            number(row.deflection_deg, 1),
            Cell::maybe(row.u_deflection_deg.map(|u| format!("{:.1}", 2.0 * u))),
            row.plain_ratio_deg.map_or_else(|| Cell::plain(""), |plain| number(plain, 1)),
            Cell::number(row.gain, 3),
        ];
        cells.extend(row.deflection_deg_per_us.map(|deg| Cell::number(deg, 3)));
        cells.extend(row.throw_mm.map(|mm| number(mm, 1)));
        cells.extend(
            row.play
                .into_iter()
                .flat_map(|play| [play.servo_mm, play.holes_mm, play.total_mm].map(|mm| Cell::number(mm, 2))),
        );
        cells.push(Cell::number(row.transmission_deg, 1));
        table.push(cells);
    }
    table
}

/// So many decimals, and no minus before nothing.
fn number(value: f64, decimals: usize) -> Cell {
    let text = format!("{value:.decimals$}");
    let is_nothing = text.chars().all(|c| matches!(c, '-' | '0' | '.'));
    Cell::plain(if is_nothing { text.replace('-', "") } else { text })
}

fn loads(loads: &[LoadAnswer]) -> Table {
    let mut table = Table::new([
        right("servo deg"),
        right("surface deg"),
        right("m/s"),
        right("coefficient"),
        left("from"),
        right("hinge N m"),
        right("servo N m"),
        right("2u N m"),
        right("rod N"),
        right("limit m/s"),
        left("servo"),
    ]);
    for load in loads {
        let holds = match load.is_beyond_servo {
            Some(true) => Cell::toned("TOO WEAK: blows back or strips", Tone::Bad),
            Some(false) => Cell::toned("holds", Tone::Good),
            None => Cell::default(),
        };
        let limit = load.speed_limit_ms.zip(load.u_speed_limit_ms);
        table.push([
            Cell::of(load.servo_deg),
            Cell::number(load.deflection_deg, 1),
            Cell::of(load.speed_ms),
            Cell::number(load.hinge_coefficient, 3),
            Cell::plain(match load.coefficient_source {
                CoefficientSource::Given => "given",
                CoefficientSource::ThinAerofoil => "theory, an upper value",
                CoefficientSource::ThinAerofoilBeyondItsRange => "theory beyond its range",
            }),
            Cell::number(load.load.hinge_moment_nm, 3),
            Cell::number(load.load.servo_torque_nm, 3),
            Cell::number(2.0 * load.u_servo_torque_nm, 3),
            Cell::plain(format!("{:.0} to {:.0}", load.load.rod_force_n, load.load.rod_force_most_n)),
            Cell::maybe(limit.map(|(limit, u)| format!("{limit:.1} ± {:.1}", 2.0 * u))),
            holds,
        ]);
    }
    table
}

fn sides(mismatch: &Mismatch) -> Table {
    let mut table = Table::new([
        right("servo deg"),
        right("left deg"),
        right("as built deg"),
        right("as built mm"),
        right("end points deg"),
        right("end points mm"),
        right("five points deg"),
        right("five points mm"),
    ]);
    for row in &mismatch.rows {
        let mut cells = vec![Cell::of(row.servo_deg), number(row.left_deg, 1)];
        for side in [row.as_built, row.with_end_points, row.with_curve] {
            cells.extend([side.difference_deg, side.difference_mm].map(signed));
        }
        table.push(cells);
    }
    table
}

/// Two decimals with a sign, and no minus before nothing.
fn signed(value: f64) -> Cell {
    let text = format!("{value:+.2}");
    Cell::plain(if text == "-0.00" { "+0.00".to_owned() } else { text })
}

fn verdict(mismatch: &Mismatch) -> Vec<(String, Cell)> {
    let worst = |worst: &WorstDifference| {
        format!(
            "{:+.2}° = {:+.2} mm at {:.0}° of servo",
            worst.difference_deg, worst.difference_mm, worst.servo_deg
        )
    };
    let percent = [("forward", mismatch.end_point_forward_pct), ("aft", mismatch.end_point_aft_pct)]
        .into_iter()
        .filter_map(|(way, pct)| pct.map(|pct| format!("{way} {pct:.1} %")))
        .collect::<Vec<_>>();
    let curve = mismatch
        .curve
        .iter()
        .map(|point| format!("{:.1} → {:.1}", point.left_servo_deg, point.right_servo_deg))
        .collect::<Vec<_>>();
    let cure = match mismatch.cure {
        MismatchCure::NoneNeeded => Cell::toned("none needed: the sides are equal as built", Tone::Good),
        MismatchCure::EndPoints => Cell::toned("two end points make the sides equal", Tone::Good),
        MismatchCure::FivePointCurve => Cell::toned(
            "NOT two end points: a difference stays between them; a five-point curve, or set the arm alike",
            Tone::Caution,
        ),
        MismatchCure::ChangeTheLinkage => {
            Cell::toned("NEITHER end points nor five points: set arm and horn alike", Tone::Bad)
        }
    };
    vec![
        field("worst as built", worst(&mismatch.worst_as_built)),
        field("with end points", worst(&mismatch.worst_with_end_points)),
        field("with five points", worst(&mismatch.worst_with_curve)),
        field("end points", percent.join(", ")),
        field("five points", format!("{} (servo deg, left → right)", curve.join(", "))),
        ("cure".to_owned(), cure),
    ]
}

fn sizes(proposals: &[LinkageProposal]) -> Table {
    let has_cover = proposals.iter().any(|one| one.cover_gap_mm.is_some());
    let mut columns = [
        "arm mm",
        "arm deg",
        "horn mm",
        "rod mm",
        "down deg",
        "at servo deg",
        "end point %",
        "up deg",
        "at servo deg",
        "end point %",
        "gain",
        "gain down",
        "rod to horn deg",
        "play deg",
    ]
    .map(right)
    .to_vec();
    columns.extend(has_cover.then(|| right("cover gap mm")));
    let mut table = Table::new(columns);
    for one in proposals {
        let mut cells = vec![
            Cell::number(one.arm_mm, 1),
            Cell::number(one.arm_deg, 1),
            Cell::number(one.horn_mm, 1),
            Cell::number(one.rod_mm, 2),
            Cell::number(one.down_deg, 1),
            Cell::number(one.servo_at_down_deg, 1),
            Cell::number(one.down_end_point_pct, 0),
            Cell::number(one.up_deg, 1),
            Cell::number(one.servo_at_up_deg, 1),
            Cell::number(one.up_end_point_pct, 0),
            Cell::number(one.gain_at_neutral, 2),
            Cell::number(one.gain_at_down, 2),
            Cell::number(one.transmission_deg, 0),
            Cell::number(one.play_deg, 2),
        ];
        cells.extend(one.cover_gap_mm.map(|mm| Cell::number(mm, 2)));
        table.push(cells);
    }
    table
}

fn residuals(fit: &GeometryFit) -> Table {
    let mut table =
        Table::new([right("servo deg"), right("measured deg"), right("fitted deg"), right("residual deg")]);
    for point in &fit.residuals {
        table.push([
            Cell::of(point.servo_deg),
            Cell::number(point.measured_deg, 2),
            Cell::number(point.fitted_deg, 2),
            signed(point.residual_deg),
        ]);
    }
    table
}

fn found(fit: &GeometryFit) -> Vec<(String, Cell)> {
    let mut fields: Vec<(String, Cell)> = fit
        .fitted
        .iter()
        .map(|one| {
            let u = one.u.map_or_else(
                || "no point left over to show how sure".to_owned(),
                |u| format!("2u {:.3}", 2.0 * u),
            );
            field(one.parameter.as_str(), format!("{:.3} ({u})", one.value))
        })
        .collect();
    let sd = fit.sd_deg.map(|sd| format!(", standard deviation of a point {sd:.2}°")).unwrap_or_default();
    let text = format!("rms {:.2}°{sd}, degrees of freedom {}", fit.rms_deg, fit.degrees_of_freedom);
    fields.push(field("residuals", text));
    fields
}
