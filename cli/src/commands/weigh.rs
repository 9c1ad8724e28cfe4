//! `preen weigh`: mass and centre of gravity from the scales under the supports, with their uncertainty, compared
//! with a list, and recorded for a model if wanted.

use preen_domain::answers::compute::{
    MacPlace, WeighedSupport, WeighingAnswer, WeighingQuestion, compute_weighing,
};
use preen_domain::facts::Noun;
use preen_domain::formulas::balance::MassAndCg;
use preen_domain::formulas::reconcile::{Reconciliation, UnaccountedVerdict};
use preen_domain::formulas::weighing::WeighedArm;
use serde_json::json;

use super::balance::{field, fields_as_csv};
use super::nouns::read_text;
use super::record::{Draft, record};
use super::{Session, bench};
use crate::Io;
use crate::args::When;
use crate::failure::Failure;
use crate::output::{Block, Reply};

/// The supports, and what to make of them.
#[derive(Debug, clap::Args)]
#[command(
    after_help = "Places are in mm: x aft of the datum, y right of the centreline; readings in g without the \
                        weight of the stands."
)]
pub struct Args {
    /// A support: where it touches and what its scale reads; two or more
    #[arg(long = "support", value_name = "X[:Y]:READING", value_parser = bench::support, required = true,
        allow_hyphen_values = true)]
    supports: Vec<WeighedSupport>,
    /// Standard uncertainty of each reading, g
    #[arg(long, value_name = "G", default_value_t = 0.5)]
    u_scale: f64,
    /// Standard uncertainty of where each support touches, mm
    #[arg(long, value_name = "MM", default_value_t = 0.5)]
    u_place: f64,
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
    let (mut reply, answer) = weighed(args, session.io)?;
    if let Some(model) = &args.record {
        let recorded = keep(args, model, &answer, session)?;
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
    let (mut reply, _) = weighed(args, io)?;
    reply.hint("--record MODEL puts it on record.");
    Ok(reply)
}

fn weighed(args: &Args, io: &mut Io<'_>) -> Result<(Reply, WeighingAnswer), Failure> {
    let list_items = match &args.list_file {
        Some(file) => bench::items_of_csv(file, &read_text(io, file)?)?,
        None => Vec::new(),
    };
    let question = WeighingQuestion {
        supports: args.supports.clone(),
        u_scale_g: args.u_scale,
        u_place_mm: args.u_place,
        list: args.list,
        list_items,
        place_known_within_mm: args.place_known_within,
        tip_place_y_mm: args.tip_at,
        mac: args.mac,
    };
    let (answer, json) = bench::compute(&question, compute_weighing)?;
    let mut reply = Reply { json, ..Reply::default() };
    show(&mut reply, &answer);
    Ok((reply, answer))
}

fn show(reply: &mut Reply, answer: &WeighingAnswer) {
    let mut fields =
        vec![field("mass", format!("{:.1} ± {:.1} g (2u)", answer.mass.mass_g, 2.0 * answer.mass.u_g))];
    fields.push(field("CG x", say_arm(answer.x.as_ref())));
    fields.push(field("CG y", say_arm(answer.y.as_ref())));
    fields.extend(answer.x_percent_mac.map(|pct| field("of the chord", format!("{pct:.1} %"))));
    if let Some(level) = &answer.level {
        let text = format!("{:+.1} g at y {:+.0} mm levels the wing", level.weight_g, level.place_y_mm);
        fields.push(field("tip weight", text));
    }
    if let Some(reconciliation) = &answer.reconciliation {
        fields.push(field("scale less list", say_gap(reconciliation)));
    }
    fields.push(field("method", answer.method.as_str()));
    reply.csv = fields_as_csv(&fields);
    reply.blocks.push(Block::Fields(fields));
}

fn say_arm(arm: Option<&WeighedArm>) -> String {
    match arm {
        Some(arm) => format!(
            "{:.2} ± {:.2} mm (2u; of 1u the scales {:.2}, the places {:.2})",
            arm.at_mm,
            2.0 * arm.u_mm,
            arm.u_scale_mm,
            arm.u_place_mm
        ),
        None => "the supports say nothing about it".to_owned(),
    }
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
    answer: &WeighingAnswer,
    session: &mut Session<'_, '_>,
) -> Result<Reply, Failure> {
    let x = answer.x.as_ref().ok_or_else(|| {
        Failure::bad_input("A weighing on record needs the centre of gravity along x.")
            .hint("Put the supports at different x.")
    })?;
    let supports: Vec<_> = args
        .supports
        .iter()
        .map(|support| json!({ "x_mm": support.x_mm, "y_mm": support.y_mm, "reading_g": support.reading_g }))
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
