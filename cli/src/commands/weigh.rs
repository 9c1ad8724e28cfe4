//! `preen weigh`: mass and centre of gravity from the scales under the supports, of one weighing or several, with their
//! uncertainty and what it is made of, compared with a list, and recorded for a model if wanted.

use preen_domain::answers::compute::{
    BudgetAxis, BudgetLine, BudgetPart, MacPlace, RepeatedWeighing, TogetherAnswer, WeighedSupport,
    WeighingAnswer, WeighingQuestion, compute_weighing,
};
use preen_domain::facts::Noun;
use preen_domain::formulas::balance::MassAndCg;
use preen_domain::formulas::combine::{Combined, StandSetUp};
use preen_domain::formulas::reconcile::{Reconciliation, UnaccountedVerdict};
use preen_domain::formulas::support_check::{LoadSharing, WholeCheck, WholeMass};
use preen_domain::formulas::weighing::{Levelling, WeighedArm};
use serde_json::json;

use super::balance::{field, fields_as_csv};
use super::nouns::read_text;
use super::record::{Draft, record};
use super::{Session, bench};
use crate::Io;
use crate::args::When;
use crate::failure::Failure;
use crate::output::{Block, Cell, Reply, Table, left, right};

/// The supports, and what to make of them.
#[derive(Debug, clap::Args)]
#[command(
    after_help = "Places are in mm: x aft of the datum, y right of the centreline; readings in g without the \
                        weight of the stands. Every part of the uncertainty is one standard deviation (1u)."
)]
pub struct Args {
    /// The whole question as JSON, as the service takes it; `-` is the input
    #[arg(long, value_name = "FILE", conflicts_with_all = ["supports", "repeats", "anew", "u_scale", "u_place", "level_within",
        "cg_height", "whole", "list", "list_file", "place_known_within", "tip_at", "mac"])]
    from: Option<String>,
    /// A support: where it touches and what its scale reads; two or more
    #[arg(long = "support", value_name = "X[:Y]:READING", value_parser = bench::support,
        required_unless_present = "from", allow_hyphen_values = true)]
    supports: Vec<WeighedSupport>,
    /// One more weighing of the same model, all its supports; may be given several times
    #[arg(long = "repeat", value_name = "X[:Y]:READING,…", value_parser = bench::supports, allow_hyphen_values = true)]
    repeats: Vec<RepeatedWeighing>,
    /// Stands and levelling were set up anew for each weighing
    #[arg(long, requires = "repeats")]
    anew: bool,
    /// Standard uncertainty of each reading, g
    #[arg(long, value_name = "G", default_value_t = 0.5)]
    u_scale: f64,
    /// Standard uncertainty of where each support touches, mm
    #[arg(long, value_name = "MM", default_value_t = 0.5)]
    u_place: f64,
    /// Standard uncertainty of the angle at which the model stands, deg
    #[arg(long, value_name = "DEG", requires = "cg_height")]
    level_within: Option<f64>,
    /// Height of the centre of gravity above the supports, mm
    #[arg(long, value_name = "MM", requires = "level_within", allow_hyphen_values = true)]
    cg_height: Option<f64>,
    /// The whole model on one scale, and its uncertainty, to check the supports against
    #[arg(long, value_name = "MASS:U", value_parser = bench::whole)]
    whole: Option<WholeMass>,
    /// A list to compare with, by its sum
    #[arg(long, value_name = "MASS:X", value_parser = bench::mass_and_cg, conflicts_with = "list_file")]
    list: Option<MassAndCg>,
    /// A list to compare with, item by item, as CSV
    #[arg(long, value_name = "FILE")]
    list_file: Option<String>,
    /// The place of missing mass counts as known when its 2u is at most this [default: 50]
    #[arg(long, value_name = "MM")]
    place_known_within: Option<f64>,
    /// Where a weight at a tip could sit (left: negative)
    #[arg(long, value_name = "Y", allow_hyphen_values = true)]
    tip_at: Option<f64>,
    /// The mean aerodynamic chord
    #[arg(long, value_name = "LEADING_EDGE:LENGTH", value_parser = bench::mac, allow_hyphen_values = true)]
    mac: Option<MacPlace>,
    /// Record it as a weighing of this model
    #[arg(long, value_name = "MODEL")]
    record: Option<String>,
    /// Which pack, ballast and tips, in words
    #[arg(long, value_name = "TEXT", requires = "record")]
    configuration: Option<String>,
    /// Anything else worth knowing
    #[arg(long, value_name = "TEXT", requires = "record")]
    note: Option<String>,
    #[command(flatten)]
    when: When,
}

/// Asks, shows, and records if wanted.
pub fn run(args: &Args, session: &mut Session<'_, '_>) -> Result<Reply, Failure> {
    let (mut reply, question, answer) = weighed(args, session.io)?;
    if let Some(model) = &args.record {
        let recorded = keep(args, model, &question, &answer, session)?;
        reply.json = format!("{{\"computed\":{},\"recorded\":{}}}", reply.json, recorded.json);
        reply.line("");
        reply.blocks.extend(recorded.blocks);
        reply.hint(format!("`preen balance {model}` now starts from this weighing."));
    }
    Ok(reply)
}

/// Whether it is to be recorded, which only a service can.
pub const fn needs_service(args: &Args) -> bool {
    args.record.is_some()
}

/// Weighs what is on the bench.
pub fn on_bench(args: &Args, io: &mut Io<'_>) -> Result<Reply, Failure> {
    let (mut reply, _, _) = weighed(args, io)?;
    reply.hint("--record MODEL puts it on record.");
    Ok(reply)
}

fn weighed(args: &Args, io: &mut Io<'_>) -> Result<(Reply, WeighingQuestion, WeighingAnswer), Failure> {
    let question = match &args.from {
        Some(file) => bench::read_question(io, file)?,
        None => question(args, io)?,
    };
    let (answer, json) = bench::compute(&question, compute_weighing)?;
    let mut reply = Reply { json, ..Reply::default() };
    show(&mut reply, &question, &answer);
    Ok((reply, question, answer))
}

fn question(args: &Args, io: &mut Io<'_>) -> Result<WeighingQuestion, Failure> {
    let list_items = match &args.list_file {
        Some(file) => bench::items_of_csv(file, &read_text(io, file)?)?,
        None => Vec::new(),
    };
    let levelling = match (args.level_within, args.cg_height) {
        (Some(u_angle_deg), Some(cg_height_mm)) => Some(Levelling { u_angle_deg, cg_height_mm }),
        _ => None,
    };
    Ok(WeighingQuestion {
        supports: args.supports.clone(),
        u_scale_g: args.u_scale,
        u_place_mm: args.u_place,
        levelling,
        repeats: args.repeats.clone(),
        set_up: if args.anew { StandSetUp::Anew } else { StandSetUp::Kept },
        whole: args.whole,
        list: args.list,
        list_items,
        place_known_within_mm: args.place_known_within,
        tip_place_y_mm: args.tip_at,
        mac: args.mac,
    })
}

fn show(reply: &mut Reply, question: &WeighingQuestion, answer: &WeighingAnswer) {
    let mut fields =
        vec![field("mass", format!("{:.1} ± {:.1} g (2u)", answer.mass.mass_g, 2.0 * answer.mass.u_g))];
    fields.push(field("CG x", say_arm(answer.x.as_ref())));
    fields.push(field("CG y", say_arm(answer.y.as_ref())));
    fields.extend(answer.x_percent_mac.map(|pct| field("of the chord", format!("{pct:.1} %"))));
    if let Some(level) = &answer.level {
        let text = format!("{:+.1} g at y {:+.0} mm levels the wing", level.weight_g, level.place_y_mm);
        fields.push(field("tip weight", text));
    }
    if let Some(together) = &answer.together {
        fields.extend(say_together(together));
    }
    if let Some(whole) = &answer.whole {
        fields.push(field("supports less whole", say_whole(whole)));
    }
    fields.extend(answer.sharing.as_ref().map(|sharing| field("load sharing", say_sharing(sharing))));
    if let Some(reconciliation) = &answer.reconciliation {
        fields.push(field("scale less list", say_gap(reconciliation)));
    }
    fields.push(field("method", answer.method.as_str()));
    reply.csv = fields_as_csv(&fields);
    reply.blocks.push(Block::Fields(fields));
    if answer.budget.len() > 1 {
        reply.line("");
        reply.blocks.push(Block::Table(budget_table(&answer.budget)));
    }
    if question.levelling.is_none() {
        reply.line("");
        reply.line(
            "The levelling is taken as perfect: --level-within and --cg-height say what it costs (1° at 40 mm: 0.70 mm).",
        );
    }
}

/// What each part costs, the largest first.
fn budget_table(budget: &[BudgetLine]) -> Table {
    let mut table = Table::new([
        left("uncertainty of"),
        left("by"),
        right("1u mm"),
        right("share %"),
        right("without it mm"),
    ]);
    for line in budget {
        table.push([
            Cell::plain(match line.axis {
                BudgetAxis::X => "CG x",
                BudgetAxis::Y => "CG y",
            }),
            Cell::plain(match line.part {
                BudgetPart::Scale => "scales",
                BudgetPart::Place => "where the supports touch",
                BudgetPart::Level => "levelling",
                BudgetPart::Scatter => "scatter between weighings",
            }),
            Cell::number(line.u_mm, 2),
            Cell::number(line.share_percent, 0),
            Cell::number(line.u_without_mm, 2),
        ]);
    }
    table
}

fn say_together(together: &TogetherAnswer) -> Vec<(String, Cell)> {
    let set_up = match together.set_up {
        StandSetUp::Kept => "with the same set-up",
        StandSetUp::Anew => "each set up anew",
    };
    let mut fields = vec![field("weighings", format!("{}, {set_up}", together.weighings))];
    let all = [("mass", "g", Some(&together.mass_g)), ("x", "mm", together.x_mm.as_ref())];
    for (name, unit, of) in all.into_iter().chain([("y", "mm", together.y_mm.as_ref())]) {
        let Some(of) = of else { continue };
        fields.push(field(&format!("{name} together"), say_combined(of, unit)));
        for out in &of.outliers {
            let text = format!(
                "weighing {} stands out ({:.1} standard deviations, chance {:.4}); it is counted: without it {:.2} {unit}",
                out.number, out.distance, out.chance, out.value_without
            );
            fields.push(field(&format!("{name} odd one"), text));
        }
    }
    fields
}

fn say_combined(of: &Combined, unit: &str) -> String {
    format!(
        "{:.2} ± {:.2} {unit} (95 %, {:.2} u; of 1u scatter {:.2}, instruments {:.2})",
        of.value, of.expanded, of.coverage_factor, of.u_scatter, of.u_instrument
    )
}

fn say_whole(whole: &WholeCheck) -> String {
    let verdict = if whole.agrees {
        "they agree"
    } else {
        "they DISAGREE: look for a stand that touches, check the scales"
    };
    let x = whole
        .adjusted
        .x
        .map(|x| format!(", CG x {:.2} ± {:.2} mm (2u)", x.at_mm, 2.0 * x.u_mm))
        .unwrap_or_default();
    format!(
        "{:+.1} g (2u {:.1} g): {verdict}; taken together {:.1} ± {:.1} g (2u){x}",
        whole.misfit_g,
        whole.misfit_2u_g,
        whole.adjusted.mass_g,
        2.0 * whole.adjusted.u_mass_g
    )
}

fn say_sharing(sharing: &LoadSharing) -> String {
    let each: Vec<String> = sharing.residuals_g.iter().map(|g| format!("{g:+.1}")).collect();
    format!(
        "{} g against equal stands; no error of the CG, but a high or low stand may rock",
        each.join(" / ")
    )
}

fn say_arm(arm: Option<&WeighedArm>) -> String {
    match arm {
        Some(arm) => format!(
            "{:.2} ± {:.2} mm (2u; of 1u the scales {:.2}, the places {:.2}{}{})",
            arm.at_mm,
            2.0 * arm.u_mm,
            arm.u_scale_mm,
            arm.u_place_mm,
            say_share(", the levelling", arm.u_level_mm),
            say_share(", the scatter", arm.u_scatter_mm)
        ),
        None => "the supports say nothing about it".to_owned(),
    }
}

fn say_share(name: &str, u_mm: f64) -> String {
    if u_mm > 0.0 { format!("{name} {u_mm:.2}") } else { String::new() }
}

fn say_gap(gap: &Reconciliation) -> String {
    let place = match (gap.arm_mm, gap.arm_2u_mm) {
        (Some(arm), Some(twice)) => format!(" at x {arm:.0} ± {twice:.0} mm (2u)"),
        _ => String::new(),
    };
    match gap.verdict {
        UnaccountedVerdict::NoUnaccountedMass => {
            format!("{:+.1} g: no unaccounted mass (2u {:.1} g)", gap.mass_gap_g, gap.mass_2u_g)
        }
        UnaccountedVerdict::PlaceKnown => format!("{:+.1} g{place}", gap.mass_gap_g),
        UnaccountedVerdict::PlaceNotKnown => format!("{:+.1} g{place}: place not known", gap.mass_gap_g),
    }
}

fn keep(
    args: &Args,
    model: &str,
    question: &WeighingQuestion,
    answer: &WeighingAnswer,
    session: &mut Session<'_, '_>,
) -> Result<Reply, Failure> {
    let x = answer.x.as_ref().ok_or_else(|| {
        Failure::bad_input("A weighing on record needs the centre of gravity along x.")
            .hint("Put the supports at different x.")
    })?;
    // Readings on record belong to one weighing; of several taken together none speaks for all.
    let kept = if question.repeats.is_empty() { question.supports.as_slice() } else { &[] };
    let supports: Vec<_> = kept
        .iter()
        .map(|support| {
            let reading_g = support.reading_g - support.tare_g;
            json!({ "x_mm": support.x_mm, "y_mm": support.y_mm, "reading_g": reading_g })
        })
        .collect();
    let at = args.when.moment(&session.client)?;
    let draft = Draft::new(session)
        .with("model", model)
        .with("occurred_at", json!(at))
        .with("mass_g", answer.mass.mass_g)
        .with("x_mm", x.at_mm)
        .with("u_x_mm", x.u_mm)
        .maybe("y_mm", answer.y.as_ref().map(|y| y.at_mm))
        .with("supports", supports)
        .maybe("configuration", args.configuration.clone())
        .maybe("note", args.note.clone());
    record(session, Noun::Weighings, draft, &format!("weighing of {model}"))
}
