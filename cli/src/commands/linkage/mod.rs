//! `preen linkage`: what a linkage does to its surface, computed here without a service. How the answer is shown stands
//! in `show`.

mod show;

use preen_domain::answers::compute::{
    LinkageQuestion, LoadQuestion, MeasuredQuestion, MeasuredThrow, OtherSideQuestion, SurfaceQuestion,
    WantedQuestion, compute_linkage,
};
use preen_domain::formulas::linkage::geometry::LinkageGeometry;
use preen_domain::formulas::linkage::parameter::LinkageParameter;
use preen_domain::formulas::linkage::proposal::{CoverRoom, SizeSteps};
use preen_domain::formulas::linkage::throws::ThrowMeasure;
use preen_domain::formulas::linkage::tolerance::GeometryUncertainty;

use super::bench;
use crate::Io;
use crate::failure::Failure;
use crate::output::Reply;

/// Everything that stands for a part of the question.
const PARTS: [&str; 35] = [
    "arm",
    "hinge",
    "horn",
    "rod",
    "at",
    "per_us",
    "u_length",
    "u_angle",
    "chord",
    "span",
    "chord_ratio",
    "measure",
    "servo_play",
    "hole_play",
    "loads",
    "torque",
    "incidence",
    "density",
    "efficiency",
    "u_coefficient",
    "right_arm",
    "right_horn",
    "right_hinge",
    "right_rod",
    "ends",
    "equal_within",
    "want",
    "travel",
    "set_back",
    "least_transmission",
    "want_mm",
    "arms",
    "horns",
    "measured",
    "find",
];

/// The linkage, and what is asked about it.
#[derive(Debug, clap::Args)]
#[command(
    after_help = "Lengths are in mm from the servo's axis, x aft and z up; angles in deg: the arm from straight down \
                  and the servo from neutral, positive with the arm's end aft; the surface down positive. With --csv \
                  the last part asked for is printed: fit, sizes, mismatch, loads or the deflection table."
)]
pub struct Args {
    /// The whole question as JSON, as the service takes it; `-` is the input
    #[arg(long, value_name = "FILE", conflicts_with_all = PARTS)]
    from: Option<String>,
    /// Arm: hole to axis, and its angle with the servo at neutral
    #[arg(long, value_name = "MM:DEG", value_parser = pair, allow_hyphen_values = true)]
    arm: Option<Pair>,
    /// Hinge line aft of the servo's axis, and above it
    #[arg(long, value_name = "X[:Z]", value_parser = pair_or_one, allow_hyphen_values = true)]
    hinge: Option<Pair>,
    /// Horn: hole below the hinge line, and aft of it
    #[arg(long, value_name = "MM[:SET_BACK]", value_parser = pair_or_one, allow_hyphen_values = true)]
    horn: Option<Pair>,
    /// Rod, hole to hole [default: cut so that neutral is 0°]
    #[arg(long, value_name = "MM")]
    rod: Option<f64>,
    /// Servo angles of the table [default: the tens inside the dead points]
    #[arg(long, value_name = "DEG,…", value_delimiter = ',', allow_hyphen_values = true)]
    at: Vec<f64>,
    /// Servo degrees per microsecond of pulse
    #[arg(long, value_name = "DEG")]
    per_us: Option<f64>,
    /// Standard uncertainty of each length and place of the geometry [default: 0.1]
    #[arg(long, value_name = "MM")]
    u_length: Option<f64>,
    /// Standard uncertainty of the arm's angle [default: 1]
    #[arg(long, value_name = "DEG")]
    u_angle: Option<f64>,
    /// Chord of the surface behind its hinge line
    #[arg(long, value_name = "MM")]
    chord: Option<f64>,
    /// Length of the surface along its hinge line
    #[arg(long, value_name = "MM", requires = "chord")]
    span: Option<f64>,
    /// Share of the surface of the whole chord, for a hinge moment from theory
    #[arg(long, value_name = "0..1", requires = "chord")]
    chord_ratio: Option<f64>,
    /// How throws in mm are measured: straight, normal or arc
    #[arg(long, value_name = "HOW", value_parser = measure, default_value = "straight", requires = "chord")]
    measure: ThrowMeasure,
    /// Play of the servo at its arm, end to end
    #[arg(long, value_name = "DEG", requires = "chord")]
    servo_play: Option<f64>,
    /// Play along the rod, the holes of both ends together
    #[arg(long, value_name = "MM", requires = "chord")]
    hole_play: Option<f64>,
    /// A load: servo angle, airspeed in m/s, hinge-moment coefficient [default: by theory]
    #[arg(long = "load", value_name = "DEG:SPEED[:C]", value_parser = load, allow_hyphen_values = true,
        requires = "span", help_heading = "Loads")]
    loads: Vec<LoadQuestion>,
    /// What the servo can hold, N m: gives the speed limit of each load
    #[arg(long, value_name = "NM", requires = "loads", help_heading = "Loads")]
    torque: Option<f64>,
    /// Incidence of the wing for coefficients by theory, from its zero-lift direction [default: 0]
    #[arg(
        long,
        value_name = "DEG",
        requires = "chord_ratio",
        requires = "loads",
        allow_hyphen_values = true,
        help_heading = "Loads"
    )]
    incidence: Option<f64>,
    /// Density of the air, kg/m³ [default: 1.225, sea level at 15 °C]
    #[arg(long, value_name = "KG_M3", requires = "loads", help_heading = "Loads")]
    density: Option<f64>,
    /// Share of the servo's work that arrives at the surface [default: 0.9]
    #[arg(long, value_name = "0..1", requires = "loads", help_heading = "Loads")]
    efficiency: Option<f64>,
    /// Standard uncertainty of each hinge-moment coefficient, as a share of it [default: 0.3]
    #[arg(long, value_name = "SHARE", requires = "loads", help_heading = "Loads")]
    u_coefficient: Option<f64>,
    /// Arm of the right side [default for all of the right side: as the left]
    #[arg(long, value_name = "MM:DEG", value_parser = pair, allow_hyphen_values = true, requires = "ends",
        help_heading = "Left against right")]
    right_arm: Option<Pair>,
    /// Horn of the right side
    #[arg(long, value_name = "MM[:SET_BACK]", value_parser = pair_or_one, allow_hyphen_values = true,
        requires = "ends", help_heading = "Left against right")]
    right_horn: Option<Pair>,
    /// Hinge line of the right side
    #[arg(long, value_name = "X[:Z]", value_parser = pair_or_one, allow_hyphen_values = true, requires = "ends",
        help_heading = "Left against right")]
    right_hinge: Option<Pair>,
    /// Rod of the right side [default: cut so that neutral is 0°]
    #[arg(long, value_name = "MM", requires = "ends", help_heading = "Left against right")]
    right_rod: Option<f64>,
    /// Servo angles at full command, arm forward and aft: asks for the mismatch
    #[arg(long, value_name = "FORWARD:AFT", value_parser = pair, allow_hyphen_values = true, requires = "chord",
        help_heading = "Left against right")]
    ends: Option<Pair>,
    /// Sides count as equal within this at the trailing edge [default: 0.2]
    #[arg(long, value_name = "MM", requires = "ends", help_heading = "Left against right")]
    equal_within: Option<f64>,
    /// Throws wanted, deg down and up: asks for arm and horn sizes
    #[arg(long, value_name = "DOWN:UP", value_parser = pair, requires_all = ["travel", "arms", "horns", "hinge"],
        help_heading = "Sizes")]
    want: Option<Pair>,
    /// The same in mm at the trailing edge
    #[arg(long, value_name = "DOWN:UP", value_parser = pair, conflicts_with = "want",
        requires_all = ["travel", "arms", "horns", "hinge", "chord"], help_heading = "Sizes")]
    want_mm: Option<Pair>,
    /// Set-back of the horn's hole for sizes without a horn given [default: 0]
    #[arg(
        long,
        value_name = "MM",
        allow_hyphen_values = true,
        requires = "travel",
        conflicts_with = "horn",
        help_heading = "Sizes"
    )]
    set_back: Option<f64>,
    /// The least angle between rod and horn over the travel, deg [default: 15]
    #[arg(long, value_name = "DEG", requires = "travel", help_heading = "Sizes")]
    least_transmission: Option<f64>,
    /// Servo travel there is, arm forward and aft
    #[arg(long, value_name = "FORWARD:AFT", value_parser = pair, help_heading = "Sizes")]
    travel: Option<Pair>,
    /// Arm radii that can be had
    #[arg(long, value_name = "FROM:TO[:STEP]", value_parser = steps, requires = "travel", help_heading = "Sizes")]
    arms: Option<SizeSteps>,
    /// Horn heights that can be made
    #[arg(long, value_name = "FROM:TO[:STEP]", value_parser = steps, requires = "travel", help_heading = "Sizes")]
    horns: Option<SizeSteps>,
    /// Arm angles that can be set [default: -45:45:1]
    #[arg(long, value_name = "FROM:TO[:STEP]", value_parser = steps, allow_hyphen_values = true, requires = "travel",
        conflicts_with = "from", help_heading = "Sizes")]
    angles: Option<SizeSteps>,
    /// A cover that the arm must clear: axis to skin, sheet, tip beyond the hole, gap [default: 0.3]
    #[arg(long, value_name = "D:SHEET:TIP[:GAP]", value_parser = cover, requires = "travel", conflicts_with = "from",
        help_heading = "Sizes")]
    under_cover: Option<CoverRoom>,
    /// A throw that was measured, in deg or with `mm` in mm: asks for the geometry behind it
    #[arg(long, value_name = "SERVO:DEG|SERVO:THROWmm", value_parser = measured, allow_hyphen_values = true,
        requires_all = ["find", "arm", "hinge", "horn"], help_heading = "Fit")]
    measured: Vec<MeasuredThrow>,
    /// What to find, such as arm_deg,horn_mm; the rest is held
    #[arg(long, value_name = "NAME,…", value_delimiter = ',', value_parser = parameter, requires = "measured",
        help_heading = "Fit")]
    find: Vec<LinkageParameter>,
}

/// Two numbers.
#[derive(Clone, Copy, Debug)]
struct Pair(f64, f64);

/// Computes and shows.
pub fn run(args: &Args, io: &mut Io<'_>) -> Result<Reply, Failure> {
    let question = match &args.from {
        Some(file) => bench::read_question(io, file)?,
        None => question(args)?,
    };
    let (answer, json) = bench::compute(&question, compute_linkage)?;
    let mut reply = Reply { json, ..Reply::default() };
    show::show(&mut reply, &answer);
    Ok(reply)
}

fn question(args: &Args) -> Result<LinkageQuestion, Failure> {
    let geometry = geometry(args)?;
    if args.travel.is_some() && args.want.is_none() && args.want_mm.is_none() {
        return Err(Failure::bad_input("The throws wanted are missing.")
            .hint("Give --want DOWN:UP in deg, or --want-mm DOWN:UP at the trailing edge."));
    }
    if geometry.is_none() && args.travel.is_none() {
        return Err(Failure::bad_input("There is no linkage to compute.").hint(
            "Give --arm MM:DEG, --hinge X[:Z] and --horn MM[:SET_BACK], or a whole question with --from FILE.",
        ));
    }
    Ok(LinkageQuestion {
        geometry,
        servo_deg: args.at.clone(),
        servo_deg_per_us: args.per_us,
        uncertainty: uncertainty(args),
        surface: args.chord.map(|chord_mm| SurfaceQuestion {
            chord_mm,
            span_mm: args.span,
            chord_ratio: args.chord_ratio,
            throw_measure: args.measure,
        }),
        servo_play_deg: args.servo_play,
        hole_play_mm: args.hole_play,
        loads: loads(args),
        density_kg_m3: args.density,
        efficiency: args.efficiency,
        u_hinge_coefficient: args.u_coefficient,
        servo_torque_nm: args.torque,
        other_side: geometry.and_then(|left| other_side(args, &left)),
        wanted: wanted(args),
        measured: (!args.measured.is_empty())
            .then(|| MeasuredQuestion { points: args.measured.clone(), unknowns: args.find.clone() }),
    })
}

fn geometry(args: &Args) -> Result<Option<LinkageGeometry>, Failure> {
    match (args.arm, args.hinge, args.horn) {
        (
            Some(Pair(arm_mm, arm_deg)),
            Some(Pair(hinge_x_mm, hinge_z_mm)),
            Some(Pair(horn_mm, set_back_mm)),
        ) => Ok(Some(LinkageGeometry {
            arm_mm,
            arm_deg,
            hinge_x_mm,
            hinge_z_mm,
            horn_mm,
            set_back_mm,
            rod_mm: args.rod,
        })),
        (None, _, None) => Ok(None),
        (arm, hinge, _) => {
            let missing = match (arm, hinge) {
                (None, _) => "--arm MM:DEG",
                (_, None) => "--hinge X[:Z]",
                _ => "--horn MM[:SET_BACK]",
            };
            Err(Failure::bad_input(format!("The linkage is not complete: {missing} is missing.")))
        }
    }
}

/// The right side is the left one where nothing else is said.
fn other_side(args: &Args, left: &LinkageGeometry) -> Option<OtherSideQuestion> {
    let Pair(forward_deg, aft_deg) = args.ends?;
    let arm = args.right_arm.unwrap_or(Pair(left.arm_mm, left.arm_deg));
    let horn = args.right_horn.unwrap_or(Pair(left.horn_mm, left.set_back_mm));
    let hinge = args.right_hinge.unwrap_or(Pair(left.hinge_x_mm, left.hinge_z_mm));
    let geometry = LinkageGeometry {
        arm_mm: arm.0,
        arm_deg: arm.1,
        hinge_x_mm: hinge.0,
        hinge_z_mm: hinge.1,
        horn_mm: horn.0,
        set_back_mm: horn.1,
        rod_mm: args.right_rod,
    };
    Some(OtherSideQuestion {
        geometry,
        forward_deg,
        aft_deg,
        servo_deg: Vec::new(),
        equal_within_mm: args.equal_within,
    })
}

fn loads(args: &Args) -> Vec<LoadQuestion> {
    let incidence_deg = args.incidence.unwrap_or(0.0);
    args.loads.iter().map(|load| LoadQuestion { incidence_deg, ..*load }).collect()
}

/// What is not said stays as it is without either.
fn uncertainty(args: &Args) -> Option<GeometryUncertainty> {
    let usual = GeometryUncertainty::default();
    (args.u_length.is_some() || args.u_angle.is_some()).then(|| GeometryUncertainty {
        length_mm: args.u_length.unwrap_or(usual.length_mm),
        angle_deg: args.u_angle.unwrap_or(usual.angle_deg),
    })
}

fn wanted(args: &Args) -> Option<WantedQuestion> {
    let Pair(servo_forward_deg, servo_aft_deg) = args.travel?;
    let Pair(hinge_x_mm, hinge_z_mm) = args.hinge?;
    Some(WantedQuestion {
        down_deg: args.want.map(|pair| pair.0),
        down_mm: args.want_mm.map(|pair| pair.0),
        up_deg: args.want.map(|pair| pair.1),
        up_mm: args.want_mm.map(|pair| pair.1),
        servo_forward_deg,
        servo_aft_deg,
        hinge_x_mm: Some(hinge_x_mm),
        hinge_z_mm: Some(hinge_z_mm),
        set_back_mm: args.set_back,
        arm_mm: args.arms?,
        arm_deg: args.angles,
        horn_mm: args.horns?,
        cover: args.under_cover,
        least_transmission_deg: args.least_transmission,
    })
}

fn pair(text: &str) -> Result<Pair, String> {
    let all = bench::numbers(text, 2, 2, "two numbers joined by a colon")?;
    Ok(Pair(bench::at(&all, 0), bench::at(&all, 1)))
}

fn pair_or_one(text: &str) -> Result<Pair, String> {
    let all = bench::numbers(text, 1, 2, "a number, or two joined by a colon")?;
    Ok(Pair(bench::at(&all, 0), bench::at(&all, 1)))
}

fn load(text: &str) -> Result<LoadQuestion, String> {
    let all = bench::numbers(text, 2, 3, "DEG:SPEED or DEG:SPEED:C")?;
    Ok(LoadQuestion {
        servo_deg: bench::at(&all, 0),
        speed_ms: bench::at(&all, 1),
        hinge_coefficient: all.get(2).copied(),
        incidence_deg: 0.0,
    })
}

fn steps(text: &str) -> Result<SizeSteps, String> {
    let all = bench::numbers(text, 2, 3, "FROM:TO or FROM:TO:STEP")?;
    let step = all.get(2).copied();
    Ok(SizeSteps { from: bench::at(&all, 0), to: bench::at(&all, 1), step: step.unwrap_or(0.1) })
}

fn cover(text: &str) -> Result<CoverRoom, String> {
    let all = bench::numbers(text, 3, 4, "D:SHEET:TIP or D:SHEET:TIP:GAP")?;
    let gap = all.get(3).copied();
    Ok(CoverRoom {
        axis_to_skin_mm: bench::at(&all, 0),
        sheet_mm: bench::at(&all, 1),
        tip_mm: bench::at(&all, 2),
        gap_mm: gap.unwrap_or(preen_domain::formulas::cover::WANTED_GAP_MM),
    })
}

fn measured(text: &str) -> Result<MeasuredThrow, String> {
    let (place, is_mm) = text.strip_suffix("mm").map_or((text, false), |place| (place, true));
    let all = bench::numbers(place, 2, 2, "SERVO:DEG or SERVO:THROWmm")?;
    let (servo_deg, value) = (bench::at(&all, 0), bench::at(&all, 1));
    Ok(if is_mm {
        MeasuredThrow { servo_deg, deflection_deg: None, throw_mm: Some(value) }
    } else {
        MeasuredThrow { servo_deg, deflection_deg: Some(value), throw_mm: None }
    })
}

fn measure(text: &str) -> Result<ThrowMeasure, String> {
    match text {
        "straight" => Ok(ThrowMeasure::StraightChord),
        "normal" => Ok(ThrowMeasure::Normal),
        "arc" => Ok(ThrowMeasure::Arc),
        _ => Err(format!("`{text}` is none of straight, normal and arc")),
    }
}

fn parameter(text: &str) -> Result<LinkageParameter, String> {
    LinkageParameter::ALL.into_iter().find(|parameter| parameter.as_str() == text).ok_or_else(|| {
        let names = LinkageParameter::ALL.map(LinkageParameter::as_str).join(", ");
        format!("`{text}` is none of {names}")
    })
}
