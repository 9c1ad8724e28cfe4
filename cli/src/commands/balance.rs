//! `preen balance`: mass and centre of gravity of a model of the fleet, or of a list on the bench.

use preen_domain::answers::compute::{
    BalanceAnswer, BalanceChange, BalanceItem, BalanceQuestion, CgRange, MacPlace, compute_balance,
};
use preen_domain::answers::{Answer, Balanced, Method};
use preen_domain::facts::Noun;
use preen_domain::formulas::balance::MassAndCg;

use super::nouns::read_text;
use super::{Session, bench, frame_line, may_fly};
use crate::Io;
use crate::args::Asked;
use crate::failure::Failure;
use crate::moments::show_moment;
use crate::output::{Block, Cell, Reply, Table, left, right};

/// A model, or numbers of the bench.
#[derive(Debug, clap::Args)]
#[command(
    after_help = "Places are in mm: x aft of the datum, y right of the centreline, z up. On the bench give \
                        --base or a list (--item, --file), and what changes it."
)]
pub struct Args {
    /// A model of the fleet
    #[arg(conflicts_with_all = ["file", "base", "items", "changes", "trim_at", "tip_at", "target", "range", "mac"])]
    model: Option<String>,
    #[command(flatten)]
    asked: Asked,
    /// Bench: a mass list as CSV (item,mass_g,x_mm,y_mm,z_mm,own_span_mm), or a whole question as JSON; `-` is
    /// the input, as JSON
    #[arg(long, alias = "from", value_name = "FILE", help_heading = "Bench")]
    file: Option<String>,
    /// Bench: a balance that is known
    #[arg(long, value_name = "MASS:X[:Y[:Z]]", value_parser = bench::mass_and_cg, help_heading = "Bench")]
    base: Option<MassAndCg>,
    /// Bench: an item of the list
    #[arg(long = "item", value_name = "MASS:X[:Y[:Z]][=NAME]", value_parser = bench::item, help_heading = "Bench")]
    items: Vec<BalanceItem>,
    /// Bench: what came on (or, negative, came off)
    #[arg(long = "change", value_name = "MASS:X[:Y[:Z]][=NAME]", value_parser = bench::change,
        allow_hyphen_values = true, help_heading = "Bench")]
    changes: Vec<BalanceChange>,
    /// Bench: where trim weight could sit
    #[arg(long, value_name = "X", allow_hyphen_values = true, help_heading = "Bench")]
    trim_at: Option<f64>,
    /// Bench: where the centre of gravity should be [default: where it was before the changes]
    #[arg(long, value_name = "X", allow_hyphen_values = true, help_heading = "Bench")]
    target: Option<f64>,
    /// Bench: where a weight at a tip could sit (left: negative)
    #[arg(long, value_name = "Y", allow_hyphen_values = true, help_heading = "Bench")]
    tip_at: Option<f64>,
    /// Bench: the permitted range
    #[arg(long, value_name = "FRONT:REAR", value_parser = bench::range, allow_hyphen_values = true,
        help_heading = "Bench")]
    range: Option<CgRange>,
    /// Bench: the mean aerodynamic chord
    #[arg(long, value_name = "LEADING_EDGE:LENGTH", value_parser = bench::mac, allow_hyphen_values = true,
        help_heading = "Bench")]
    mac: Option<MacPlace>,
}

/// Asks and shows.
pub fn run(args: &Args, session: &mut Session<'_, '_>) -> Result<Reply, Failure> {
    match &args.model {
        Some(model) => of_model(model, &args.asked, session),
        None => on_bench(args, session.io),
    }
}

/// Whether a model of the fleet is asked about, which only a service knows.
pub const fn needs_service(args: &Args) -> bool {
    args.model.is_some()
}

fn of_model(model: &str, asked: &Asked, session: &Session<'_, '_>) -> Result<Reply, Failure> {
    let query = asked.query(&session.client)?;
    let name = session.client.name(Noun::Models, model)?;
    let received = session.client.get(&[Noun::Models.as_str(), name, "balance"], &query)?;
    let answer: Answer<Balanced> = received.read()?;
    let mut reply = Reply { json: received.text, ..Reply::default() };
    if session.is_json {
        return Ok(reply);
    }
    let zone = session.client.zone()?;
    let frame = frame_line(&answer, zone);
    let balanced = answer.answer;
    let mut fields = vec![
        field("model", balanced.model.clone()),
        field("mass", format!("{:.1} g", balanced.mass_g)),
        field("CG x", with_uncertainty(balanced.x_mm, balanced.u_x_mm)),
        field("CG y", format!("{:+.2} mm", balanced.y_mm)),
        field("CG z", format!("{:+.2} mm", balanced.z_mm)),
    ];
    fields.extend(balanced.mac_pct.map(|pct| field("of the chord", format!("{pct:.1} %"))));
    let range = &balanced.range;
    fields.push(field("range", say_range(range.min_mm, range.max_mm, range.inside)));
    fields.push(field("from", say_method(balanced.method).to_owned()));
    if let Some(at) = balanced.weighed_at {
        let configuration =
            balanced.configuration.as_ref().map(|text| format!(", {text}")).unwrap_or_default();
        fields.push(field("weighed", format!("{}{configuration}", show_moment(at, zone))));
    }
    if let Some(net_mm) = balanced.moved_since_weighing_mm {
        let all =
            balanced.moves_since_weighing_mm.map(|mm| format!("; all moves {mm:.2} mm")).unwrap_or_default();
        fields.push(field("moved since", format!("{net_mm:+.2} mm{all}")));
    }
    if let (Some(weight), Some(x)) = (balanced.nose_weight_g, balanced.nose_weight_x_mm) {
        fields.push(field("to restore it", format!("{weight:+.2} g at x {x:.0} mm")));
    }
    if let Some(list) = balanced.list {
        fields.push(field("by the list", format!("{:.1} g at x {:.2} mm", list.mass_g, list.x_mm)));
    }
    if let Some(inertia) = &balanced.inertia {
        let text = format!(
            "roll {:.4}, pitch {:.4}, yaw {:.4} kg m² by the list{}",
            inertia.roll_kg_m2,
            inertia.pitch_kg_m2,
            inertia.yaw_kg_m2,
            if balanced.taken_as_points.is_empty() {
                String::new()
            } else {
                format!(
                    "; {} taken as points: pitch and yaw come out low",
                    balanced.taken_as_points.join(", ")
                )
            }
        );
        fields.push(field("inertia", text));
    }
    reply.line(frame);
    reply.csv = fields_as_csv(&fields);
    reply.blocks.push(Block::Fields(fields));
    if !balanced.changes.is_empty() {
        let mut table =
            Table::new([left("since the weighing"), right("g"), right("x mm"), right("y mm"), right("z mm")]);
        for change in &balanced.changes {
            table.push([
                Cell::plain(change.what.as_str()),
                Cell::plain(format!("{:+.2}", change.mass_change_g)),
                Cell::number(change.x_mm, 0),
                Cell::number(change.y_mm, 0),
                Cell::number(change.z_mm, 0),
            ]);
        }
        reply.line("");
        reply.blocks.push(Block::Table(table));
    }
    show_findings(&mut reply, &balanced.findings);
    reply.line("");
    reply.line("Computed values are estimates: weigh and test before relying on them.");
    Ok(reply)
}

/// A name and its value.
pub fn field(name: &str, text: impl Into<String>) -> (String, Cell) {
    (name.to_owned(), Cell::plain(text))
}

/// Fields as rows.
pub fn fields_as_csv(fields: &[(String, Cell)]) -> Table {
    let mut table = Table::new(["field", "value"].map(left));
    for (name, cell) in fields {
        table.push([Cell::plain(name.as_str()), cell.clone()]);
    }
    table
}

/// Findings below an answer.
pub fn show_findings(reply: &mut Reply, findings: &[preen_domain::finding::Finding]) {
    if findings.is_empty() {
        return;
    }
    let mut table = Table::new(["severity", "subject", "what", "cleared by"].map(left));
    for finding in findings {
        table.push([
            may_fly::severity_cell(finding),
            Cell::plain(finding.subject.as_str()),
            Cell::plain(finding.text.as_str()),
            Cell::plain(finding.clear_by.as_str()),
        ]);
    }
    reply.line("");
    reply.blocks.push(Block::Table(table));
}

/// How mass and centre of gravity were arrived at.
pub const fn say_method(method: Method) -> &'static str {
    match method {
        Method::LastWeighing => "the last weighing and what changed since",
        Method::List => "the list of fitted parts; loom, glue and tape are not in it",
    }
}

/// A range and whether the centre of gravity lies inside.
pub fn say_range(min_mm: f64, max_mm: f64, is_inside: bool) -> String {
    let said = if is_inside { "inside" } else { "OUTSIDE" };
    format!("{min_mm} to {max_mm} mm: {said}")
}

fn with_uncertainty(x_mm: f64, u_mm: Option<f64>) -> String {
    match u_mm {
        Some(u) => format!("{x_mm:.2} ± {:.2} mm (2u)", 2.0 * u),
        None => format!("{x_mm:.2} mm"),
    }
}

/// Balances what is on the bench.
pub fn on_bench(args: &Args, io: &mut Io<'_>) -> Result<Reply, Failure> {
    let question = question(args, io)?;
    let (answer, json): (BalanceAnswer, _) = bench::compute(&question, compute_balance)?;
    let mut reply = Reply { json, ..Reply::default() };
    let mut fields = vec![
        field("mass", format!("{:.2} g ({:+.2} g)", answer.after.mass_g, answer.mass_change_g)),
        field("CG x", format!("{:.2} mm ({:+.3} mm)", answer.after.x_mm, answer.x_change_mm)),
        field("CG y", format!("{:+.2} mm ({:+.3} mm)", answer.after.y_mm, answer.y_change_mm)),
        field("CG z", format!("{:+.2} mm ({:+.3} mm)", answer.after.z_mm, answer.z_change_mm)),
    ];
    fields.extend(answer.x_percent_mac.map(|pct| field("of the chord", format!("{pct:.1} %"))));
    if let Some(range) = &answer.range {
        fields.push(field("range", say_range(range.front_x_mm, range.rear_x_mm, range.is_inside)));
    }
    if let Some(trim) = &answer.trim {
        let needed = match &answer.range {
            Some(range) if range.is_inside => "; not required to fly",
            Some(_) | None => "",
        };
        fields.push(field(
            "trim weight",
            format!(
                "{:+.2} g at x {:.0} mm brings the CG to {:.2} mm{needed}",
                trim.weight_g, trim.place_x_mm, trim.target_x_mm
            ),
        ));
    }
    if let Some(level) = &answer.level {
        let text = format!("{:+.2} g at y {:+.0} mm levels the wing", level.weight_g, level.place_y_mm);
        fields.push(field("tip weight", format!("{text}; lighten a repair before adding weight opposite")));
    }
    if let Some(moves) = &answer.unweighed {
        let advice = if moves.should_weigh { ": weigh again" } else { "" };
        fields.push(field("unweighed", format!("{:.2} mm of moves in all{advice}", moves.total_x_mm)));
    }
    if let Some(inertia) = &answer.inertia {
        let after = &inertia.after;
        for (name, value, change) in [
            ("inertia roll", after.roll_kg_m2, inertia.change.roll_percent),
            ("inertia pitch", after.pitch_kg_m2, inertia.change.pitch_percent),
            ("inertia yaw", after.yaw_kg_m2, inertia.change.yaw_percent),
        ] {
            let change = change.map(|percent| format!(" ({percent:+.3} %)")).unwrap_or_default();
            fields.push(field(name, format!("{value:.4} kg m²{change}")));
        }
        fields.push(field("product xz", format!("{:+.4} kg m²", after.product_xz_kg_m2)));
        if let Some(axes) = &inertia.axes {
            fields.push(field(
                "roll axis",
                format!("{:+.2}° against x, rear end up positive", axes.roll_axis_tilt_deg),
            ));
        }
    }
    fields.push(field("method", answer.method));
    reply.csv = fields_as_csv(&fields);
    reply.blocks.push(Block::Fields(fields));
    reply.line("");
    reply.line("Computed values are estimates: weigh and test before relying on them.");
    Ok(reply)
}

fn question(args: &Args, io: &mut Io<'_>) -> Result<BalanceQuestion, Failure> {
    let mut items = args.items.clone();
    if let Some(file) = &args.file {
        if !file.to_lowercase().ends_with(".csv") {
            return whole_question(args, file, io);
        }
        items.extend(bench::items_of_csv(file, &read_text(io, file)?)?);
    }
    if items.is_empty() && args.base.is_none() {
        return Err(Failure::bad_input("There is nothing to balance.")
            .hint("Name a model, or give a list (--file, --item) or a known balance (--base MASS:X)."));
    }
    Ok(BalanceQuestion {
        items,
        base: args.base,
        changes: args.changes.clone(),
        trim_place_x_mm: args.trim_at,
        target_x_mm: args.target,
        tip_place_y_mm: args.tip_at,
        range: args.range,
        mac: args.mac,
    })
}

/// A question in a file is taken as it stands, so that nothing in it is lost or guessed.
fn whole_question(args: &Args, file: &str, io: &mut Io<'_>) -> Result<BalanceQuestion, Failure> {
    let has_more = args.base.is_some()
        || !args.items.is_empty()
        || !args.changes.is_empty()
        || args.trim_at.is_some()
        || args.tip_at.is_some()
        || args.target.is_some()
        || args.range.is_some()
        || args.mac.is_some();
    if has_more {
        return Err(Failure::bad_input(format!(
            "{file} holds a whole question, and more was given beside it."
        ))
        .hint("Put everything into the file, or give the list as .csv."));
    }
    bench::read_question(io, file)
}
