//! `preen joiner`: section, sanding, bending, clearance and rock, and paper for carbon, computed on the bench.

use preen_domain::answers::compute::{
    AbrasiveQuestion, BendingAnswer, JoinerAnswer, JoinerQuestion, RockAnswer, RockQuestion, SandingAnswer,
    SandingQuestion, compute_joiner,
};
use preen_domain::formulas::class::ClassLimits;
use preen_domain::formulas::joiner::abrasive::AbrasiveVerdict;
use preen_domain::formulas::joiner::bending::JointLoad;
use preen_domain::formulas::joiner::rock::{LooseSockets, RockGeometry};
use preen_domain::formulas::joiner::sanding::{SandedFaces, SandingLife};
use preen_domain::formulas::joiner::section::Section;

use super::balance::field;
use super::bench;
use super::bench_answer::{reply, say_class};
use crate::Io;
use crate::failure::Failure;
use crate::output::{Cell, Reply};

/// Any of: a section, sanding, a load, rock, paper.
#[derive(Debug, clap::Args)]
#[command(after_help = "Sections, mm: rectangle:WIDTH:HEIGHT, box:WIDTH:HEIGHT:CAP:WEB, round:DIAMETER, \
                        tube:DIAMETER:BORE, ellipse:WIDTH:HEIGHT, caps:WIDTH:HEIGHT:CAP. Width lies fore-aft. Exit code \
                        1: something restricts; 2: something grounds.")]
pub struct Args {
    /// The whole question as JSON, as the service takes it; `-` is the input
    #[arg(long, value_name = "FILE", conflicts_with = "JoinerTyped")]
    from: Option<String>,
    #[command(flatten)]
    typed: JoinerTyped,
}

/// What is asked, flag by flag.
#[derive(Debug, clap::Args)]
#[group(id = "JoinerTyped", multiple = true)]
pub struct JoinerTyped {
    /// The joiner's section as new
    #[arg(long, value_name = "SHAPE:MM:…", value_parser = section, help_heading = "Section")]
    section: Option<Section>,
    /// Material that goes: from all four faces, or from each
    #[arg(long, value_name = "MM|TOP:BOTTOM:FRONT:REAR", value_parser = faces, requires = "section",
        help_heading = "Section")]
    sand: Option<SandedFaces>,
    /// Material that went since new before that
    #[arg(long, value_name = "MM|TOP:BOTTOM:FRONT:REAR", value_parser = faces, requires = "sand",
        help_heading = "Section")]
    sanded_before: Option<SandedFaces>,
    /// Mass of the whole model
    #[arg(long, value_name = "G", requires_all = ["half_span", "joint_at", "outboard", "load_factor"],
        help_heading = "Load")]
    mass: Option<f64>,
    /// Half of the span
    #[arg(long, value_name = "MM", requires = "mass", help_heading = "Load")]
    half_span: Option<f64>,
    /// Where the joint is, from the centreline
    #[arg(long, value_name = "MM", requires = "mass", help_heading = "Load")]
    joint_at: Option<f64>,
    /// Mass outboard of the joint, and where it has its centre of gravity
    #[arg(long, value_name = "G:MM", value_parser = outboard, requires = "mass", help_heading = "Load")]
    outboard: Option<(f64, f64)>,
    /// Load factor (1 in level flight)
    #[arg(long, value_name = "N", requires = "mass", allow_hyphen_values = true, help_heading = "Load")]
    load_factor: Option<f64>,
    /// A bending moment that is known
    #[arg(
        long,
        value_name = "NM",
        conflicts_with = "mass",
        allow_hyphen_values = true,
        help_heading = "Load"
    )]
    moment: Option<f64>,
    /// Length of the joiner inside the loose socket
    #[arg(long, value_name = "MM", requires = "panel", help_heading = "Rock")]
    engagement: Option<f64>,
    /// From the joint to the tip
    #[arg(long, value_name = "MM", requires = "engagement", help_heading = "Rock")]
    panel: Option<f64>,
    /// Total rock of the tip, lifted to lowered
    #[arg(
        long,
        value_name = "MM",
        requires = "engagement",
        conflicts_with = "clearance",
        help_heading = "Rock"
    )]
    rock: Option<f64>,
    /// Clearance, the whole gap
    #[arg(long, value_name = "MM", requires = "engagement", help_heading = "Rock")]
    clearance: Option<f64>,
    /// Both sockets are loose [default: one]
    #[arg(long, requires = "engagement", help_heading = "Rock")]
    both_loose: bool,
    /// Standard uncertainty of what was read
    #[arg(long, value_name = "MM", requires = "engagement", default_value_t = 0.0, help_heading = "Rock")]
    u: f64,
    /// Limits of the clearance [default: 0.12:0.20:0.35]
    #[arg(long, value_name = "WATCH:RESTRICT:GROUND", value_parser = limits, requires = "engagement",
        help_heading = "Rock")]
    limits: Option<ClassLimits>,
    /// P-grade of the paper that is to go on carbon
    #[arg(long, value_name = "GRADE", help_heading = "Paper")]
    paper: Option<u32>,
    /// Coarsest grade permitted on carbon [default: 400]
    #[arg(long, value_name = "GRADE", requires = "paper", help_heading = "Paper")]
    guard: Option<u32>,
}

/// Computes and shows.
pub fn run(args: &Args, io: &mut Io<'_>) -> Result<Reply, Failure> {
    let question = match &args.from {
        Some(file) => bench::read_question(io, file)?,
        None => question(&args.typed)?,
    };
    let (answer, json) = bench::compute(&question, compute_joiner)?;
    Ok(show(json, &answer))
}

/// A section: `SHAPE:MM:…`.
fn section(text: &str) -> Result<Section, String> {
    let wrong = || {
        format!(
            "`{text}` is no section: rectangle:W:H, box:W:H:CAP:WEB, round:D, tube:D:BORE, ellipse:W:H, caps:W:H:CAP"
        )
    };
    let (shape, measures) = text.split_once(':').ok_or_else(wrong)?;
    let all = bench::numbers(measures, 1, 4, "numbers of a section")?;
    match (shape, all.as_slice()) {
        ("rectangle", &[width_mm, height_mm]) => Ok(Section::Rectangle { width_mm, height_mm }),
        ("box", &[width_mm, height_mm, cap_mm, web_mm]) => {
            Ok(Section::Box { width_mm, height_mm, cap_mm, web_mm })
        }
        ("round", &[diameter_mm]) => Ok(Section::Round { diameter_mm }),
        ("tube", &[diameter_mm, bore_mm]) => Ok(Section::Tube { diameter_mm, bore_mm }),
        ("ellipse", &[width_mm, height_mm]) => Ok(Section::Ellipse { width_mm, height_mm }),
        ("caps", &[width_mm, height_mm, cap_mm]) => Ok(Section::Caps { width_mm, height_mm, cap_mm }),
        _ => Err(wrong()),
    }
}

/// Faces: one depth for all, or four.
fn faces(text: &str) -> Result<SandedFaces, String> {
    let form = "MM or TOP:BOTTOM:FRONT:REAR";
    match *bench::numbers(text, 1, 4, form)?.as_slice() {
        [all] => Ok(SandedFaces::all(all)),
        [top_mm, bottom_mm, front_mm, rear_mm] => Ok(SandedFaces { top_mm, bottom_mm, front_mm, rear_mm }),
        _ => Err(format!("`{text}` is not {form}")),
    }
}

/// A mass and its place: `G:MM`.
fn outboard(text: &str) -> Result<(f64, f64), String> {
    let all = bench::numbers(text, 2, 2, "G:MM")?;
    Ok((bench::at(&all, 0), bench::at(&all, 1)))
}

/// Limits: `WATCH:RESTRICT:GROUND`.
fn limits(text: &str) -> Result<ClassLimits, String> {
    let all = bench::numbers(text, 3, 3, "WATCH:RESTRICT:GROUND")?;
    Ok(ClassLimits::new(bench::at(&all, 0), bench::at(&all, 1), bench::at(&all, 2)))
}

fn question(args: &JoinerTyped) -> Result<JoinerQuestion, Failure> {
    let load = match (args.mass, args.half_span, args.joint_at, args.outboard, args.load_factor) {
        (Some(model_mass_g), Some(half_span_mm), Some(joint_y_mm), Some(outboard), Some(load_factor)) => {
            let (outboard_mass_g, outboard_cg_y_mm) = outboard;
            Some(JointLoad {
                model_mass_g,
                half_span_mm,
                joint_y_mm,
                outboard_mass_g,
                outboard_cg_y_mm,
                load_factor,
            })
        }
        _ => None,
    };
    let loose = if args.both_loose { LooseSockets::Both } else { LooseSockets::One };
    let rock = match (args.engagement, args.panel) {
        (Some(engagement_mm), Some(panel_mm)) => Some(RockQuestion {
            joint: RockGeometry { engagement_mm, panel_mm, loose },
            clearance_mm: args.clearance,
            rock_mm: args.rock,
            u_mm: args.u,
            read_to_mm: None,
            limits_mm: args.limits,
        }),
        _ => None,
    };
    let question = JoinerQuestion {
        section: args.section,
        sanding: args
            .sand
            .map(|now| SandingQuestion { now, earlier: args.sanded_before.unwrap_or_default() }),
        load,
        moment_nm: args.moment,
        rock,
        abrasive: args.paper.map(|grade| AbrasiveQuestion { grade, guard_grade: args.guard }),
    };
    if question == JoinerQuestion::default() {
        return Err(Failure::bad_input("Nothing is asked about a joiner.")
            .hint("`preen joiner --help` lists what can be asked; --from FILE takes a whole question."));
    }
    Ok(question)
}

fn show(json: String, answer: &JoinerAnswer) -> Reply {
    let mut fields = Vec::new();
    if let Some(section) = &answer.section {
        fields.push(field("section", format!("{} × {} mm as new", section.width_mm, section.height_mm)));
        fields.push(field(
            "Z",
            format!("{:.1} mm³ (fore-aft {:.1})", section.z_vertical_mm3, section.z_fore_aft_mm3),
        ));
    }
    if let Some(sanding) = &answer.sanding {
        show_sanding(&mut fields, sanding);
    }
    if let Some(bending) = &answer.bending {
        show_bending(&mut fields, bending);
    }
    if let Some(rock) = &answer.rock {
        show_rock(&mut fields, rock);
    }
    if let Some(paper) = &answer.abrasive {
        let verdict = match paper.verdict {
            AbrasiveVerdict::Usual => "usual",
            AbrasiveVerdict::OnlyToEnter => "only while the joiner will not enter",
            AbrasiveVerdict::TooCoarse => "too coarse for carbon",
        };
        fields.push(field("paper", format!("P{}, mean grain {} µm: {verdict}", paper.grade, paper.grain_um)));
    }
    let is_judged =
        answer.sanding.is_some() || answer.rock.as_ref().is_some_and(|rock| rock.rock_mm.is_some());
    reply(json, fields, is_judged.then_some(answer.class), &answer.cautions, &answer.method)
}

fn show_sanding(fields: &mut Vec<(String, Cell)>, sanding: &SandingAnswer) {
    let after = &sanding.after;
    fields.push(field("sanded", format!("{:.2} × {:.2} mm", after.width_mm, after.height_mm)));
    fields.push(field(
        "Z sanded",
        format!(
            "{:.1} mm³: {:+.1} % since new ({:+.1} % now), fore-aft {:+.1} %",
            after.z_vertical_mm3,
            sanding.z_vertical_change_pct,
            sanding.z_vertical_change_now_pct,
            sanding.z_fore_aft_change_pct
        ),
    ));
    let height = format!("{:.2} mm since new: {}", sanding.height_lost_mm, say_class(sanding.class));
    fields.push(field("height lost", height));
    let life = match sanding.life {
        SandingLife::Within => "inside 0.10 mm for each face; an inspector is needed for more",
        SandingLife::InspectorNeeded => "more than 0.10 mm from a face: an inspector is needed",
        SandingLife::Never => "0.20 mm or more from a face: never; re-sleeve or replace the joiner",
    };
    fields.push(field("life", life));
}

fn show_bending(fields: &mut Vec<(String, Cell)>, bending: &BendingAnswer) {
    let how = bending.joint.map(|joint| {
        format!(
            " (lift {:.2} of {:.3} of a half wing at y {:.0} mm, less own weight {:.2})",
            joint.lift_moment_nm, joint.lift_share, joint.lift_at_y_mm, joint.relief_moment_nm
        )
    });
    fields.push(field("moment", format!("{:.2} N m{}", bending.moment_nm, how.unwrap_or_default())));
    if let Some(stress) = bending.stress_mpa {
        let sanded =
            bending.stress_sanded_mpa.map(|mpa| format!(", {mpa:.1} MPa sanded")).unwrap_or_default();
        fields.push(field("stress", format!("{stress:.1} MPa as new{sanded}")));
    }
}

fn show_rock(fields: &mut Vec<(String, Cell)>, rock: &RockAnswer) {
    let with_u = |value: Option<f64>, u: Option<f64>, decimals: usize| {
        let value = value?;
        let u = u.filter(|u| *u > 0.0).map(|u| format!(" ± {:.*}", decimals, 2.0 * u)).unwrap_or_default();
        Some(format!("{value:.decimals$}{u} mm{}", if u.is_empty() { "" } else { " (2u)" }))
    };
    fields.extend(
        with_u(rock.clearance_mm, rock.u_clearance_mm, 3)
            .map(|text| field("clearance", format!("{text}: {}", say_class(rock.class)))),
    );
    fields.extend(
        with_u(rock.rock_mm, rock.u_rock_mm, 2)
            .map(|text| field("rock at the tip", format!("{text}, lifted to lowered"))),
    );
    fields.push(field("bench limits", say_limits(&rock.bench_limits_mm)));
    fields.push(field("field limits", say_limits(&rock.field_limits_mm)));
}

fn say_limits(limits: &ClassLimits) -> String {
    let named = [("watch", limits.watch), ("restrict", limits.restrict), ("ground", limits.ground)];
    let texts: Vec<String> =
        named.into_iter().filter_map(|(name, limit)| limit.map(|at| format!("{name} {at}"))).collect();
    format!("{} mm", texts.join(", "))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sections_and_faces_are_read() {
        assert_eq!(section("tube:12:10"), Ok(Section::Tube { diameter_mm: 12.0, bore_mm: 10.0 }));
        for bad in ["box", "box:26:12", "cone:5", "round:x", "round:1:2:3:4:5"] {
            assert!(section(bad).is_err(), "{bad}");
        }
        assert_eq!(faces("0.1"), Ok(SandedFaces::all(0.1)));
        assert_eq!(faces("0.1:0:0:0.2").map(|faces| faces.rear_mm), Ok(0.2));
        assert!(faces("0.1:0.2").is_err());
    }
}
