//! `preen cover`: the servo arm under its cover, computed here without a service.

use preen_domain::answers::compute::{CoverAnswer, CoverQuestion, compute_cover};
use preen_domain::formulas::cover::ArmSwing;

use super::balance::{field, fields_as_csv};
use super::bench;
use crate::Io;
use crate::failure::Failure;
use crate::output::{Block, Cell, Reply, Table, Tone, left, right};

/// The arm and its cover.
#[derive(Debug, clap::Args)]
#[command(
    after_help = "Lengths are in mm; angles of the swing in deg from the shortest way between axis and skin."
)]
pub struct Args {
    /// The whole question as JSON, as the service takes it; `-` is the input
    #[arg(long, value_name = "FILE", conflicts_with_all = ["depth", "sheet", "swept", "arm", "tip", "gap", "swing",
        "try_sheets"])]
    from: Option<String>,
    /// From the servo's axis to the outer face of the skin
    #[arg(long, value_name = "MM", required_unless_present = "from")]
    depth: Option<f64>,
    /// Thickness of the cover sheet
    #[arg(long, value_name = "MM", required_unless_present = "from")]
    sheet: Option<f64>,
    /// From the axis to the far end of the arm's tip
    #[arg(long, value_name = "MM", conflicts_with_all = ["arm", "tip"])]
    swept: Option<f64>,
    /// Arm radius, axis to hole
    #[arg(long, value_name = "MM", requires = "tip")]
    arm: Option<f64>,
    /// From the hole to the far end of the tip
    #[arg(long, value_name = "MM", requires = "arm")]
    tip: Option<f64>,
    /// The gap that should remain [default: 0.3]
    #[arg(long, value_name = "MM")]
    gap: Option<f64>,
    /// The arm's swing [default: over the top and out on both sides]
    #[arg(long, value_name = "FROM:TO", value_parser = swing, allow_hyphen_values = true)]
    swing: Option<ArmSwing>,
    /// Other sheets to try
    #[arg(long = "try", value_name = "MM,…", value_delimiter = ',')]
    try_sheets: Vec<f64>,
}

/// Computes and shows.
pub fn run(args: &Args, io: &mut Io<'_>) -> Result<Reply, Failure> {
    let question = match &args.from {
        Some(file) => bench::read_question(io, file)?,
        None => question(args)?,
    };
    let (answer, json) = bench::compute(&question, compute_cover)?;
    let mut reply = Reply { json, ..Reply::default() };
    show(&mut reply, &answer);
    Ok(reply)
}

fn question(args: &Args) -> Result<CoverQuestion, Failure> {
    let (Some(axis_to_skin_mm), Some(sheet_mm)) = (args.depth, args.sheet) else {
        return Err(Failure::bad_input("Give --depth and --sheet, or a whole question with --from FILE."));
    };
    if args.swept.is_none() && args.arm.is_none() {
        return Err(
            Failure::bad_input("What the arm sweeps is missing.").hint("Give --swept, or --arm and --tip.")
        );
    }
    Ok(CoverQuestion {
        axis_to_skin_mm,
        sheet_mm,
        swept_mm: args.swept,
        arm_mm: args.arm,
        tip_mm: args.tip,
        wanted_gap_mm: args.gap,
        swing: args.swing,
        sheets_mm: args.try_sheets.clone(),
        u_length_mm: None,
    })
}

fn swing(text: &str) -> Result<ArmSwing, String> {
    let all = bench::numbers(text, 2, 2, "FROM:TO")?;
    Ok(ArmSwing { from_deg: bench::at(&all, 0), to_deg: bench::at(&all, 1) })
}

fn show(reply: &mut Reply, answer: &CoverAnswer) {
    let fit = &answer.fit;
    let place = if fit.is_over_top {
        "at the top of the swing".to_owned()
    } else {
        format!("at {:.0}°, the end nearest to the skin", fit.at_deg)
    };
    let gap = format!("{:+.2} mm ± {:.2} (2u) {place}", fit.gap_mm, 2.0 * answer.u_gap_mm);
    let mut fields = vec![field("gap", gap)];
    if let (Some(from), Some(to)) = (fit.gap_at_from_mm, fit.gap_at_to_mm) {
        fields.push(field(
            "at the ends",
            format!("{from:+.2} and {to:+.2} mm, which say nothing about the top"),
        ));
    }
    let wanted = answer.wanted_gap_mm;
    let verdict = match (fit.is_clear, fit.gap_mm < 0.0) {
        (true, _) => Cell::toned(format!("clear: {wanted} mm or more remain"), Tone::Good),
        (false, false) => Cell::toned(format!("TOO NEAR: less than {wanted} mm remains"), Tone::Caution),
        (false, true) => Cell::toned("SCRAPES: the arm reaches into the sheet", Tone::Bad),
    };
    fields.push(("verdict".to_owned(), verdict));
    if let Some(relief) = &fit.relief {
        let text = format!(
            "{:.2} mm long, from {:+.2} to {:+.2} mm along the skin (±{:.1}° of swing), taped over",
            relief.length_mm, relief.from_mm, relief.to_mm, relief.half_swing_deg
        );
        fields.push(field("relief", text));
        fields.push(field("or blister", format!("{:.2} mm high", fit.blister_mm)));
        let sheet = match fit.thickest_sheet_mm {
            Some(mm) => format!("{mm:.2} mm or thinner"),
            None => "no sheet is thin enough".to_owned(),
        };
        fields.push(field("or sheet", sheet));
    }
    if !answer.sheets.is_empty() {
        let text = answer.sheet_that_clears_mm.map_or_else(|| "none".to_owned(), |mm| format!("{mm} mm"));
        fields.push(field("thickest tried that clears", text));
    }
    reply.csv = fields_as_csv(&fields);
    reply.blocks.push(Block::Fields(fields));
    if !answer.sheets.is_empty() {
        let mut table = Table::new([right("sheet mm"), right("gap mm"), left("verdict")]);
        for sheet in &answer.sheets {
            let cell = if sheet.is_clear {
                Cell::toned("clear", Tone::Good)
            } else {
                Cell::toned("TOO NEAR", Tone::Caution)
            };
            table.push([Cell::of(sheet.sheet_mm), Cell::plain(format!("{:+.2}", sheet.gap_mm)), cell]);
        }
        reply.line("");
        reply.blocks.push(Block::Table(table));
    }
    reply.line("");
    reply.line(format!("Method: {}.", answer.method));
    reply.line(answer.caution.as_str());
}
