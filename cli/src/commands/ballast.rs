//! `preen ballast`: which slugs go into which cells, for a model of the fleet or with the numbers of the bench.

use preen_domain::answers::compute::{
    BallastAnswer, BallastCell, BallastLoading, BallastQuestion, BallastSlug, compute_ballast,
};
use preen_domain::answers::{Answer, ModelBallast};
use preen_domain::facts::Noun;
use preen_domain::formulas::balance::MassAndCg;
use preen_domain::formulas::planform::AreaDefinition;

use super::balance::{field, say_method, say_range, show_findings};
use super::nouns::read_text;
use super::{Session, bench, frame_line};
use crate::Io;
use crate::args::Asked;
use crate::failure::Failure;
use crate::output::{Block, Cell, Reply, Table, left, right};

/// A model, or numbers of the bench.
#[derive(Debug, clap::Args)]
#[command(
    after_help = "Places are in mm: x aft of the datum, y right of the centreline. Of a model the balance, the slugs in \
                  stock and the design's cells come from the record. On the bench give --base, --slug and --cell, or \
                  a whole question with --from.\n\nExample: preen ballast --base 1202.5:96.5156 --loading 20.5 \
                  --area-dm2 70.89 --slug 50:6=S50 --slug 30:4=S30 --slug 15.2:4=S15 --cell 62:3 --cell 98:3 --cell 134:3"
)]
pub struct Args {
    /// A model of the fleet
    #[arg(conflicts_with_all = ["from", "base", "slugs", "slug_file", "area_dm2"])]
    model: Option<String>,
    #[command(flatten)]
    asked: Asked,
    /// Wanted loading, g/dm²
    #[arg(long, value_name = "G_DM2", conflicts_with = "mass")]
    loading: Option<f64>,
    /// Wanted mass, g
    #[arg(long, value_name = "G")]
    mass: Option<f64>,
    /// How far the mass may be off, g [default: 8]
    #[arg(long, value_name = "G")]
    mass_tolerance: Option<f64>,
    /// Where the centre of gravity should be [default: where it is without ballast]
    #[arg(long, value_name = "X", allow_hyphen_values = true)]
    target: Option<f64>,
    /// How far the centre of gravity may be off, mm [default: 0.5]
    #[arg(long, value_name = "MM")]
    x_tolerance: Option<f64>,
    /// How far the slugs may pull to one side, mm [default: as --x-tolerance]
    #[arg(long, value_name = "MM")]
    y_tolerance: Option<f64>,
    /// A cell and how many slugs it takes; of a model, instead of its design's
    #[arg(long = "cell", value_name = "X[:Y]:CAPACITY[=NAME]", value_parser = bench::cell, allow_hyphen_values = true)]
    cells: Vec<BallastCell>,
    /// Which area of the model counts: wing, wing_and_tail, projected_wing_and_tail [default: wing]
    #[arg(long, value_name = "WHICH", value_parser = bench::area, requires = "model")]
    area: Option<AreaDefinition>,
    /// Bench: a whole question as JSON; `-` is the input
    #[arg(long, value_name = "FILE", help_heading = "Bench",
        conflicts_with_all = ["base", "slugs", "slug_file", "cells", "area_dm2", "loading", "mass", "mass_tolerance",
            "target", "x_tolerance", "y_tolerance"])]
    from: Option<String>,
    /// Bench: mass and centre of gravity without ballast
    #[arg(long, value_name = "MASS:X[:Y]", value_parser = bench::mass_and_cg, help_heading = "Bench")]
    base: Option<MassAndCg>,
    /// Bench: slugs of one stamped mass
    #[arg(long = "slug", value_name = "MASS:COUNT[=NAME]", value_parser = bench::slug, help_heading = "Bench")]
    slugs: Vec<BallastSlug>,
    /// Bench: slugs as CSV (slug,mass_g,count)
    #[arg(long, value_name = "FILE", help_heading = "Bench")]
    slug_file: Option<String>,
    /// Bench: the area that counts for the loading, dm²
    #[arg(long, value_name = "DM2", help_heading = "Bench")]
    area_dm2: Option<f64>,
}

/// Asks the service and shows.
pub fn run(args: &Args, session: &mut Session<'_, '_>) -> Result<Reply, Failure> {
    match &args.model {
        Some(model) => of_model(model, args, session),
        None => on_bench(args, session.io),
    }
}

/// Whether a model of the fleet is asked about, which only a service knows.
pub const fn needs_service(args: &Args) -> bool {
    args.model.is_some()
}

fn of_model(model: &str, args: &Args, session: &Session<'_, '_>) -> Result<Reply, Failure> {
    let mut query = args.asked.query(&session.client)?;
    let numbers = [
        ("target_loading_g_dm2", args.loading),
        ("target_mass_g", args.mass),
        ("mass_tolerance_g", args.mass_tolerance),
        ("target_x_mm", args.target),
        ("x_tolerance_mm", args.x_tolerance),
        ("y_tolerance_mm", args.y_tolerance),
    ];
    for (name, number) in numbers {
        query.extend(number.map(|number| (name, number.to_string())));
    }
    if let Some(area) = args.area {
        let word = serde_json::to_value(area).ok().and_then(|word| word.as_str().map(ToOwned::to_owned));
        query.extend(word.map(|word| ("area", word)));
    }
    if !args.cells.is_empty() {
        let text = |cell: &BallastCell| format!("{}:{}:{}", cell.x_mm, cell.y_mm, cell.capacity);
        query.push(("cells", args.cells.iter().map(text).collect::<Vec<_>>().join(",")));
    }
    let name = session.client.name(Noun::Models, model)?;
    let received = session.client.get(&[Noun::Models.as_str(), name, "ballast"], &query)?;
    let answer: Answer<ModelBallast> = received.read()?;
    let mut reply = Reply { json: received.text, ..Reply::default() };
    if session.is_json {
        return Ok(reply);
    }
    reply.line(frame_line(&answer, session.client.zone()?));
    let ModelBallast {
        model,
        balance_method,
        base,
        u_x_mm,
        configuration,
        area_dm2,
        range,
        ballast,
        findings,
        ..
    } = answer.answer;
    let configuration = configuration.map(|text| format!(", {text}")).unwrap_or_default();
    let u_x = u_x_mm.map(|u_mm| format!(" ± {:.2} mm (2u)", 2.0 * u_mm)).unwrap_or_else(|| " mm".to_owned());
    let mut fields = vec![
        field("model", model),
        field("without ballast", format!("{:.1} g, CG x {:.2}{u_x}{configuration}", base.mass_g, base.x_mm)),
        field("from", say_method(balance_method)),
        field("area", format!("{area_dm2:.2} dm²")),
    ];
    fields.extend(range.map(|range| field("range", say_range(range.min_mm, range.max_mm, range.inside))));
    reply.blocks.push(Block::Fields(fields));
    reply.line("");
    show(&mut reply, &ballast);
    show_findings(&mut reply, &findings);
    Ok(reply)
}

/// Chooses ballast with the numbers of the bench.
pub fn on_bench(args: &Args, io: &mut Io<'_>) -> Result<Reply, Failure> {
    let question = question(args, io)?;
    let (answer, json): (BallastAnswer, _) = bench::compute(&question, compute_ballast)?;
    let mut reply = Reply { json, ..Reply::default() };
    show(&mut reply, &answer);
    Ok(reply)
}

fn question(args: &Args, io: &mut Io<'_>) -> Result<BallastQuestion, Failure> {
    if let Some(file) = &args.from {
        return bench::read_question(io, file);
    }
    let mut slugs = args.slugs.clone();
    if let Some(file) = &args.slug_file {
        slugs.extend(bench::slugs_of_csv(file, &read_text(io, file)?)?);
    }
    let Some(base) = args.base.filter(|_| !slugs.is_empty() && !args.cells.is_empty()) else {
        return Err(Failure::bad_input("There is nothing to choose from.")
            .hint("Name a model, or give --base MASS:X, slugs (--slug, --slug-file) and cells (--cell)."));
    };
    Ok(BallastQuestion {
        base,
        slugs,
        cells: args.cells.clone(),
        target_mass_g: args.mass,
        target_loading_g_dm2: args.loading,
        area_dm2: args.area_dm2,
        mass_tolerance_g: args.mass_tolerance,
        target_x_mm: args.target,
        x_tolerance_mm: args.x_tolerance,
        y_tolerance_mm: args.y_tolerance,
    })
}

fn show(reply: &mut Reply, answer: &BallastAnswer) {
    let mut fields = vec![field(
        "wanted",
        format!(
            "{:.1} g (add {:.1} g ± {} g), CG {:.2} ± {} mm",
            answer.target_mass_g,
            answer.to_add_g,
            answer.mass_tolerance_g,
            answer.target_x_mm,
            answer.x_tolerance_mm
        ),
    )];
    if let (Some(mass), Some(all)) =
        (answer.search.within_mass_tolerance, answer.search.within_all_tolerances)
    {
        fields
            .push(field("looked at", format!("{mass} loadings within the mass, {all} of them keep the CG")));
    }
    reply.blocks.push(Block::Fields(fields));
    reply.line("");
    let mut table = Table::new([
        left("loading"),
        left("slugs as cells"),
        right("slugs"),
        right("g"),
        right("CG mm"),
        right("CG move"),
        right("g/dm²"),
        left("within"),
    ]);
    let rows = [
        ("best", &answer.best),
        ("nearest mass", &answer.nearest_mass),
        ("nearest outside", &answer.nearest_outside),
        ("filled from front", &answer.filled_from_front),
        ("filled from rear", &answer.filled_from_rear),
    ];
    for (name, loading) in rows {
        if let Some(loading) = loading {
            table.push(row(name, loading));
        }
    }
    reply.csv = table.clone();
    reply.blocks.push(Block::Table(table));
    if let Some(best) = &answer.best {
        let cells: Vec<String> = best.cells.iter().map(say_cell).collect();
        reply.line("");
        reply.line(cells.join(", "));
    }
    reply.line("");
    for sentence in &answer.said {
        reply.line(sentence.as_str());
    }
    reply.line(format!("Method: {}.", answer.method));
    reply.line("");
    reply.line("Computed values are estimates: weigh and test before relying on them.");
}

fn row(name: &str, loading: &BallastLoading) -> [Cell; 8] {
    [
        Cell::plain(name),
        Cell::plain(loading.text.as_str()),
        Cell::plain(loading.slugs.to_string()),
        Cell::number(loading.added_g, 1),
        Cell::number(loading.x_mm, 2),
        Cell::plain(format!("{:+.3}", loading.x_change_mm)),
        loading.loading_g_dm2.map_or_else(|| Cell::plain(""), |loading| Cell::number(loading, 2)),
        Cell::plain(if loading.is_within { "yes" } else { "NO" }),
    ]
}

fn say_cell(cell: &preen_domain::answers::compute::FilledCell) -> String {
    let slugs: Vec<String> =
        cell.slugs.iter().map(|slugs| format!("{} × {}", slugs.count, slugs.slug)).collect();
    let held = if slugs.is_empty() { "empty".to_owned() } else { slugs.join(" + ") };
    format!("{}: {held}", cell.cell)
}
