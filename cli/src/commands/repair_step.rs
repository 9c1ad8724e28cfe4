//! `preen repair step`: records work on a repair, ticked on its sheet.

use preen_domain::facts::Noun;
use preen_domain::formulas::cure::Resin;
use preen_domain::words::{ContactKind, ReliefKind};
use serde_json::{Map, Value, json};

use super::Session;
use super::record::{Draft, record};
use crate::args::When;
use crate::failure::Failure;
use crate::moments::parse_moment;
use crate::output::Reply;

/// The work.
#[derive(Debug, clap::Args)]
pub struct Args {
    /// The repair
    repair: String,
    /// Steps that are done, as in 1,2,3
    #[arg(long, value_name = "NUMBERS", value_delimiter = ',')]
    done: Vec<u32>,
    /// A step that is not applicable and why, as in 9='no flush half'
    #[arg(long, value_name = "NUMBER=WHY")]
    not_applicable: Vec<String>,
    /// Material of a lot, as in E-77 or E-77=3.5 in the lot's unit
    #[arg(long, value_name = "LOT[=QUANTITY]")]
    lot: Vec<String>,
    /// Why lots past their last day are used all the same
    #[arg(long, value_name = "WHY", requires = "lot")]
    out_of_date_reason: Option<String>,
    /// Material without a lot, in words
    #[arg(long, value_name = "TEXT")]
    material: Vec<String>,
    /// What cures: five_minute_epoxy, thirty_minute_epoxy, laminating_epoxy, cyanoacrylate, canopy_adhesive, hinge_tape
    #[arg(long)]
    resin: Option<Resin>,
    /// Temperature of the bench, °C
    #[arg(long, value_name = "C", allow_hyphen_values = true)]
    temperature: Option<f64>,
    /// When the cure began, if not with the work
    #[arg(long, value_name = "TIME")]
    cure_from: Option<String>,
    /// End of the cure by the data sheet, in place of the table
    #[arg(long, value_name = "TIME")]
    cure_until: Option<String>,
    /// Material that stays on, weighed, g; negative: came off
    #[arg(long, value_name = "G", allow_hyphen_values = true)]
    mass: Option<f64>,
    /// Place of that material, mm aft of the datum
    #[arg(long, value_name = "MM", requires = "mass", allow_hyphen_values = true)]
    x: Option<f64>,
    /// Place of that material, mm right of the centreline
    #[arg(long, value_name = "MM", requires = "mass", allow_hyphen_values = true)]
    y: Option<f64>,
    /// Place of that material, mm above the datum
    #[arg(long, value_name = "MM", requires = "mass", allow_hyphen_values = true)]
    z: Option<f64>,
    /// A part that came off
    #[arg(long, value_name = "PART")]
    off: Vec<String>,
    /// A part that came on
    #[arg(long, value_name = "PART")]
    on: Vec<String>,
    /// Id of a reading taken before the work
    #[arg(long, value_name = "ID")]
    before: Vec<String>,
    /// Id of a reading taken after it
    #[arg(long, value_name = "ID")]
    after: Vec<String>,
    /// The part that the sheet keeps something of, where the repair has several
    #[arg(long, value_name = "PART")]
    part: Option<String>,
    /// Joiner: mm sanded from top, bottom, front, rear, or one number for all four
    #[arg(long, value_name = "MM", value_delimiter = ',')]
    sanded: Vec<f64>,
    /// Joiner: how a loose one was mended
    #[arg(long, value_name = "TEXT")]
    method: Option<String>,
    /// Connector: which cavity carries what
    #[arg(long, value_name = "TEXT", requires = "contact")]
    pin_map: Option<String>,
    /// Connector: the metal contact in this half, pin or socket
    #[arg(long, requires = "pin_map")]
    contact: Option<ContactKind>,
    /// Connector: this half is the fixed one
    #[arg(long, requires = "pin_map")]
    fixed_half: bool,
    /// Connector: lead used up, mm
    #[arg(long, value_name = "MM", requires = "pin_map")]
    slack_used: Option<f64>,
    /// Cover: what it is made of
    #[arg(long, value_name = "TEXT", requires_all = ["thickness", "relief"])]
    cover: Option<String>,
    /// Cover: thickness, mm
    #[arg(long, value_name = "MM", requires = "cover")]
    thickness: Option<f64>,
    /// Cover: none, slot, thinner_sheet or blister
    #[arg(long, requires = "cover")]
    relief: Option<ReliefKind>,
    /// Servo: tooth of the spline, what is left over in deg, radius of the hole in mm, pulse at the centre in µs
    #[arg(long, value_name = "TOOTH,DEG,MM,US", value_delimiter = ',', allow_hyphen_values = true,
          requires_all = ["throws_left", "throws_right"])]
    servo: Vec<f64>,
    /// Servo: throws of the left side at five points, mm
    #[arg(long, value_name = "MM", value_delimiter = ',', allow_hyphen_values = true, requires = "servo")]
    throws_left: Vec<f64>,
    /// Servo: throws of the right side at the same points, mm
    #[arg(long, value_name = "MM", value_delimiter = ',', allow_hyphen_values = true, requires = "servo")]
    throws_right: Vec<f64>,
    #[command(flatten)]
    when: When,
    /// Who did it, if not you
    #[arg(long, value_name = "MEMBER")]
    by: Option<String>,
    /// Anything else worth knowing
    #[arg(long, value_name = "TEXT")]
    note: Option<String>,
}

/// Records it.
pub fn run(args: &Args, session: &mut Session<'_, '_>) -> Result<Reply, Failure> {
    if args.mass.is_some() && args.x.is_none() {
        return Err(Failure::bad_input("Material needs its place: it moves the centre of gravity.")
            .hint("Give --x, and --y and --z where they are not 0."));
    }
    let moment = |text: &Option<String>, session: &Session<'_, '_>| match text {
        Some(text) => Ok(Some(json!(parse_moment(text, session.client.zone()?, session.client.now()?)?))),
        None => Ok::<Option<Value>, Failure>(None),
    };
    let (from, until) = (moment(&args.cure_from, session)?, moment(&args.cure_until, session)?);
    let at = args.when.moment(&session.client)?;
    let draft = Draft::new(session)
        .with("repair", args.repair.as_str())
        .with("occurred_at", json!(at))
        .with("steps", ticks(args)?)
        .with("materials", materials(args)?)
        .with("mass_added_g", args.mass.unwrap_or(0.0))
        .with("x_mm", args.x.unwrap_or(0.0))
        .with("y_mm", args.y.unwrap_or(0.0))
        .with("z_mm", args.z.unwrap_or(0.0))
        .with("parts_off", args.off.clone())
        .with("parts_on", args.on.clone())
        .with("readings_before", args.before.clone())
        .with("readings_after", args.after.clone())
        .maybe("resin", args.resin.map(|resin| json!(resin)))
        .maybe("temperature_c", args.temperature)
        .maybe("cure_started_at", from)
        .maybe("cure_until_at", until)
        .maybe("joiner", joiner(args)?)
        .maybe("connector", connector(args))
        .maybe("cover", cover(args))
        .maybe("servo", servo(args)?)
        .maybe("done_by", args.by.clone())
        .maybe("note", args.note.clone());
    let mut reply = record(session, Noun::RepairSteps, draft, &format!("work on {}", args.repair))?;
    reply.hint(format!(
        "`preen repair show {}` says what is still open and what blocks the release.",
        args.repair
    ));
    Ok(reply)
}

fn ticks(args: &Args) -> Result<Vec<Value>, Failure> {
    let mut list: Vec<Value> =
        args.done.iter().map(|number| json!({ "number": number, "result": "done" })).collect();
    for text in &args.not_applicable {
        let said =
            text.split_once('=').and_then(|(number, why)| Some((number.trim().parse::<u32>().ok()?, why)));
        let (number, why) = said.ok_or_else(|| {
            Failure::bad_input(format!("`{text}` is not NUMBER=WHY."))
                .hint("As in --not-applicable 9='no flush half'")
        })?;
        list.push(json!({ "number": number, "result": "not_applicable", "reason": why }));
    }
    Ok(list)
}

fn materials(args: &Args) -> Result<Vec<Value>, Failure> {
    let mut list = Vec::new();
    for text in &args.lot {
        let (lot, quantity) = match text.split_once('=') {
            None => (text.as_str(), None),
            Some((lot, number)) => {
                let quantity = number.parse::<f64>().ok().filter(|number| number.is_finite());
                let wrong = || {
                    Failure::bad_input(format!("`{number}` is not a quantity.")).hint("As in --lot E-77=3.5")
                };
                (lot, Some(quantity.ok_or_else(wrong)?))
            }
        };
        let mut used = Map::from_iter([("lot".to_owned(), json!(lot))]);
        used.extend(quantity.map(|quantity| ("quantity".to_owned(), json!(quantity))));
        used.extend(args.out_of_date_reason.iter().map(|why| ("out_of_date_reason".to_owned(), json!(why))));
        list.push(Value::Object(used));
    }
    list.extend(args.material.iter().map(|text| json!({ "text": text })));
    Ok(list)
}

/// A detail with the part it belongs to, if that was named.
fn of_part(args: &Args, mut detail: Value) -> Value {
    if let (Some(fields), Some(part)) = (detail.as_object_mut(), &args.part) {
        fields.insert("component".to_owned(), json!(part));
    }
    detail
}

fn joiner(args: &Args) -> Result<Option<Value>, Failure> {
    let sanded = match args.sanded.as_slice() {
        [] => json!({}),
        [all] => json!({ "top_mm": all, "bottom_mm": all, "front_mm": all, "rear_mm": all }),
        [top, bottom, front, rear] => {
            json!({ "top_mm": top, "bottom_mm": bottom, "front_mm": front, "rear_mm": rear })
        }
        _ => {
            return Err(Failure::bad_input(
                "Give one depth for all faces, or four: top, bottom, front, rear.",
            )
            .hint("As in --sanded 0.03 or --sanded 0.03,0.02,0,0"));
        }
    };
    if args.sanded.is_empty() && args.method.is_none() {
        return Ok(None);
    }
    let mut work = json!({ "sanded": sanded });
    if let (Some(fields), Some(method)) = (work.as_object_mut(), &args.method) {
        fields.insert("method".to_owned(), json!(method));
    }
    Ok(Some(of_part(args, work)))
}

fn connector(args: &Args) -> Option<Value> {
    let (pin_map, contact) = (args.pin_map.as_ref()?, args.contact?);
    Some(of_part(
        args,
        json!({ "slack_used_mm": args.slack_used.unwrap_or(0.0), "pin_map": pin_map, "contact_kind": contact,
                "is_fixed_half": args.fixed_half }),
    ))
}

fn cover(args: &Args) -> Option<Value> {
    let (material, thickness_mm, relief) = (args.cover.as_ref()?, args.thickness?, args.relief?);
    Some(json!({ "material": material, "thickness_mm": thickness_mm, "relief": relief }))
}

fn servo(args: &Args) -> Result<Option<Value>, Failure> {
    match args.servo.as_slice() {
        [] => Ok(None),
        [tooth, residual_deg, arm_radius_mm, pulse_centre_us] => Ok(Some(of_part(
            args,
            json!({ "spline_tooth": tooth, "residual_deg": residual_deg, "arm_radius_mm": arm_radius_mm,
                    "pulse_centre_us": pulse_centre_us, "throws_left_mm": args.throws_left,
                    "throws_right_mm": args.throws_right }),
        ))),
        _ => Err(Failure::bad_input(
            "A servo has four numbers: tooth, deg left over, radius in mm, centre in µs.",
        )
        .hint("As in --servo 12,-1.5,9,1500 --throws-left … --throws-right …")),
    }
}
