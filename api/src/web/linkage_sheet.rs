//! The linkage sheet: a plane four-bar from its sizes, drawn in three positions with its curve, throws and play.

use actix_web::web::ServiceConfig;
use actix_web::{HttpResponse, get};
use askama::Template;
use preen_domain::answers::compute::{
    LinkageAnswer, LinkageQuestion, SurfaceQuestion, answer as compute, compute_linkage,
};
use preen_domain::formulas::linkage::geometry::LinkageGeometry;

use super::draw::linkage::{LinkageDrawing, linkage};
use super::fault::PageFault;
use super::form::{Fields, Filled};
use super::frame::{Frame, Room, send};
use super::guest::Visit;
use crate::problem::Problem;

/// The fields, what they are called, and what stands in them at first.
const FIELDS: &[(&str, &str, &str)] = &[
    ("arm_mm", "Arm radius, mm", "4.5"),
    ("arm_deg", "Arm at neutral, ° from straight down, aft positive", "28"),
    ("hinge_x_mm", "Hinge aft of the servo's axis, mm", "62"),
    ("hinge_z_mm", "Hinge above the servo's axis, mm", "3.5"),
    ("horn_mm", "Horn height below the hinge, mm", "4.6"),
    ("set_back_mm", "Set-back of the horn's hole, mm", "0.5"),
    ("from_deg", "Servo from, °", "-50"),
    ("to_deg", "Servo to, °", "50"),
    ("chord_mm", "Chord of the surface, mm", "62"),
    ("servo_play_deg", "Play at the servo arm, ° end to end", "0.6"),
    ("hole_play_mm", "Play along the rod, mm", "0"),
];
/// Rows of the table.
const ROWS: u32 = 20;

/// A field as it is shown.
struct Shown {
    name: &'static str,
    text: &'static str,
    value: String,
}

#[derive(Template)]
#[template(path = "pages/linkage.html")]
struct LinkagePage {
    frame: Frame,
    form: Filled,
    fields: Vec<Shown>,
    answer: Option<LinkageAnswer>,
    drawing: Option<LinkageDrawing>,
}

fn question(fields: &Fields) -> Result<LinkageQuestion, Problem> {
    let number = |wanted: &str| -> Result<f64, Problem> {
        let usual = FIELDS.iter().find(|(name, _, _)| *name == wanted).map_or("0", |(_, _, usual)| usual);
        Ok(fields.number(wanted)?.unwrap_or_else(|| usual.parse().unwrap_or(0.0)))
    };
    let (from, to) = (number("from_deg")?, number("to_deg")?);
    if from >= to {
        return Err(Problem::field("/to_deg", "The servo must go from a smaller to a larger angle."));
    }
    let step = (to - from) / f64::from(ROWS);
    let geometry = LinkageGeometry {
        arm_mm: number("arm_mm")?,
        arm_deg: number("arm_deg")?,
        hinge_x_mm: number("hinge_x_mm")?,
        hinge_z_mm: number("hinge_z_mm")?,
        horn_mm: number("horn_mm")?,
        set_back_mm: number("set_back_mm")?,
        rod_mm: None,
    };
    Ok(LinkageQuestion {
        geometry: Some(geometry),
        servo_deg: (0..=ROWS).map(|row| from + step * f64::from(row)).collect(),
        surface: Some(SurfaceQuestion {
            chord_mm: number("chord_mm")?,
            span_mm: None,
            chord_ratio: None,
            throw_measure: preen_domain::formulas::linkage::throws::ThrowMeasure::default(),
        }),
        servo_play_deg: Some(number("servo_play_deg")?).filter(|play| *play > 0.0),
        hole_play_mm: Some(number("hole_play_mm")?).filter(|play| *play > 0.0),
        ..LinkageQuestion::default()
    })
}

/// Computes and draws a linkage.
#[get("/bench/linkage")]
async fn show_linkage(visit: Visit) -> Result<HttpResponse, PageFault> {
    let fields = visit.fields();
    let ask = visit.ask_plainly().await?;
    let asked = question(&fields);
    let computed = asked.and_then(|asked| {
        let answer = compute(&asked, compute_linkage)
            .map_err(|bad| Problem::field(bad.pointer.clone(), crate::problem::sentence(&bad.text)))?;
        Ok((asked, answer))
    });
    let (form, found) = match computed {
        Ok(found) => (Filled { fields, fault: None }, Some(found)),
        Err(problem) => (Filled::refused(fields, &problem), None),
    };
    let drawing = found.as_ref().and_then(|(asked, answer)| linkage(asked.geometry.as_ref()?, &answer.rows));
    let shown =
        FIELDS.iter().map(|(name, text, usual)| Shown { name, text, value: form.or(name, usual).to_owned() });
    send(&LinkagePage {
        frame: Frame::plain(&ask.held.fleet, &visit.actor, Room::Club, "Linkage sheet", ask.now),
        fields: shown.collect(),
        answer: found.map(|(_, answer)| answer),
        drawing,
        form,
    })
}

/// Registers the routes.
pub fn routes(config: &mut ServiceConfig) {
    config.service(show_linkage);
}
