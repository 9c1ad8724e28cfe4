//! Taking parts off and putting parts on: what it does to mass and balance, which checks it opens, or why it is
//! refused. A plan is tried on a copy of the Fleet; committing it records exactly the facts of the plan.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::{
    Moment,
    balance::{Balanced, CgInRange, balance, inertia_of_list, list_of, mass_items},
    due::due_of_model,
};
use crate::{
    facts::{Fact, Inside, Installation, Recorded, Removal},
    finding::Finding,
    fleet::{Fleet, Place},
    formulas::{balance::MassAndCg, inertia::inertia_change, trim::trim_weight_g},
    ids::{ComponentId, InstallationId, MemberId, ModelId, RemovalId},
    rules::{Broken, FitQuestion, Kind, check, check_fit},
    text::{Tag, Text},
    time::Instant,
    words::RemovalReason,
};

/// Exchange of one or more parts of a model.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct SwapRequest {
    /// When the parts were exchanged.
    pub occurred_at: Instant,
    /// Who did it, if not the member who records it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub done_by: Option<MemberId>,
    /// The exchanges.
    #[schema(min_items = 1)]
    pub exchanges: Vec<Exchange>,
}

/// One position: what is in it comes off, another part goes on.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Exchange {
    /// Path from the model down, such as `W.C/FS.R`.
    pub path: String,
    /// What goes on.
    pub on: ComponentId,
    /// Id for the installation (UUIDv7).
    pub installation: InstallationId,
    /// Id for the removal (UUIDv7).
    pub removal: RemovalId,
    /// Why the old part comes off.
    pub reason: RemovalReason,
    /// Why, in words.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub note: Option<Text>,
}

/// One part into an empty position.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct FitRequest {
    /// Id for the installation (UUIDv7).
    pub id: InstallationId,
    /// Into what.
    pub inside: Inside,
    /// The position within that.
    pub position: Tag,
    /// When.
    pub occurred_at: Instant,
    /// Who did it, if not the member who records it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub fitted_by: Option<MemberId>,
    /// Anything else worth knowing.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub note: Option<Text>,
}

/// One part out of its position.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct RemoveRequest {
    /// Id for the removal (UUIDv7).
    pub id: RemovalId,
    /// When.
    pub occurred_at: Instant,
    /// Why.
    pub reason: RemovalReason,
    /// Who did it, if not the member who records it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub removed_by: Option<MemberId>,
    /// Why, in words.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub note: Option<Text>,
}

/// What a change of parts does.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct SwapAnswer {
    /// Tag of the model; null if the parts are in no model.
    pub model: Option<String>,
    /// Whether nothing was recorded.
    pub is_preview: bool,
    /// Mass and centre of gravity before.
    pub before: Option<MassAndCg>,
    /// Mass and centre of gravity after.
    pub after: Option<MassAndCg>,
    /// The difference.
    pub delta: Option<SwapDelta>,
    /// The allowed range after the change.
    pub range: Option<CgInRange>,
    /// Weight at the design's nose place that restores the centre of gravity before, g; negative: too much there.
    pub nose_weight_g: Option<f64>,
    /// Where that place is, mm aft of the datum.
    pub nose_weight_x_mm: Option<f64>,
    /// Codes of the checks that it opens.
    pub checks_opened: Vec<String>,
    /// What the reader should know.
    pub findings: Vec<Finding>,
    /// How mass and centre of gravity were arrived at.
    pub method: Option<super::Method>,
}

/// The difference that a change of parts makes.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct SwapDelta {
    /// Mass, g.
    pub mass_g: f64,
    /// Centre of gravity, mm, aft positive.
    pub x_mm: f64,
    /// mm, right positive.
    pub y_mm: f64,
    /// mm, up positive.
    pub z_mm: f64,
    /// Moment of inertia in roll, per cent, by the list.
    pub roll_inertia_pct: Option<f64>,
    /// Moment of inertia in pitch, per cent, by the list.
    pub pitch_inertia_pct: Option<f64>,
    /// Moment of inertia in yaw, per cent, by the list.
    pub yaw_inertia_pct: Option<f64>,
}

/// A change of parts that nothing stands against: the facts to record, and what they do.
#[derive(Debug, Clone, PartialEq)]
pub struct SwapPlan {
    /// The facts, in the order in which they are recorded.
    pub facts: Vec<Fact>,
    /// What they do.
    pub answer: SwapAnswer,
}

/// Who plans, and when the service says it is.
#[derive(Debug, Clone, Copy)]
struct Frame {
    actor: MemberId,
    now: Instant,
    occurred_at: Instant,
}

/// Plans the exchange of parts of a model.
///
/// # Errors
/// Everything that stands against it: an empty or unknown position, a part that is not serviceable, forbidden by a
/// campaign, of the wrong kind or somewhere else.
pub fn plan_swap(
    fleet: &Fleet,
    model: ModelId,
    request: &SwapRequest,
    actor: MemberId,
    now: Instant,
) -> Result<SwapPlan, Vec<Broken>> {
    if request.exchanges.is_empty() {
        return Err(vec![value(
            "no_exchange",
            "/exchanges",
            "name at least one position and what goes on".to_owned(),
        )]);
    }
    let mut facts = Vec::new();
    let mut broken = Vec::new();
    for (index, exchange) in request.exchanges.iter().enumerate() {
        let at = format!("/exchanges/{index}");
        let fitted = fleet.fitted(model, request.occurred_at);
        let Some(old) = fitted.iter().find(|fitted| fitted.path == exchange.path) else {
            let known: Vec<&str> = fitted.iter().map(|fitted| fitted.path.as_str()).collect();
            broken.push(value(
                "nothing_there",
                &format!("{at}/path"),
                format!("nothing sits in `{}`; filled are {}", exchange.path, known.join(", ")),
            ));
            continue;
        };
        let span = &old.occupant.span;
        facts.push(Fact::Removal(Removal {
            id: exchange.removal,
            installation: span.installation,
            component: old.id,
            occurred_at: request.occurred_at,
            reason: exchange.reason,
            removed_by: request.done_by,
            note: exchange.note.clone(),
        }));
        let question = FitQuestion {
            component: exchange.on,
            inside: span.inside,
            position: &span.position,
            at: request.occurred_at,
            installation: Some(exchange.installation),
            instead_of: Some(old.id),
        };
        if fleet.component_data(exchange.on).is_none() {
            broken.push(value(
                "unknown_reference",
                &format!("{at}/on"),
                format!("no component `{}` in this club", exchange.on),
            ));
        }
        for mut rule in check_fit(fleet, question) {
            rule.pointer =
                if rule.pointer == "/component" { format!("{at}/on") } else { format!("{at}/path") };
            broken.push(rule);
        }
        facts.push(Fact::Installation(Installation {
            id: exchange.installation,
            component: exchange.on,
            inside: span.inside,
            position: span.position.clone(),
            occurred_at: request.occurred_at,
            is_start_of_record: false,
            fitted_by: request.done_by,
            note: exchange.note.clone(),
        }));
    }
    if !broken.is_empty() {
        return Err(broken);
    }
    finish(fleet, Some(model), facts, Frame { actor, now, occurred_at: request.occurred_at })
}

/// Plans to fit one component.
///
/// # Errors
/// Everything that stands against it.
pub fn plan_fit(
    fleet: &Fleet,
    component: ComponentId,
    request: &FitRequest,
    actor: MemberId,
    now: Instant,
) -> Result<SwapPlan, Vec<Broken>> {
    let model = match request.inside {
        Inside::Model(model) => Some(model),
        Inside::Component(parent) => model_of(fleet, parent, request.occurred_at),
    };
    let installation = Installation {
        id: request.id,
        component,
        inside: request.inside,
        position: request.position.clone(),
        occurred_at: request.occurred_at,
        is_start_of_record: false,
        fitted_by: request.fitted_by,
        note: request.note.clone(),
    };
    finish(
        fleet,
        model,
        vec![Fact::Installation(installation)],
        Frame { actor, now, occurred_at: request.occurred_at },
    )
}

/// Plans to take one component out.
///
/// # Errors
/// Everything that stands against it.
pub fn plan_removal(
    fleet: &Fleet,
    component: ComponentId,
    request: &RemoveRequest,
    actor: MemberId,
    now: Instant,
) -> Result<SwapPlan, Vec<Broken>> {
    let span = fleet.component(component).and_then(|file| file.span_at(request.occurred_at));
    let Some(span) = span else {
        let tag = fleet.component_tag(component);
        return Err(vec![Broken {
            code: "not_fitted",
            kind: Kind::Record,
            pointer: "/occurred_at".to_owned(),
            text: format!(
                "{tag} sat in nothing at {}: there is nothing to take it out of",
                request.occurred_at
            ),
        }]);
    };
    let removal = Removal {
        id: request.id,
        installation: span.installation,
        component,
        occurred_at: request.occurred_at,
        reason: request.reason,
        removed_by: request.removed_by,
        note: request.note.clone(),
    };
    let model = model_of(fleet, component, request.occurred_at);
    finish(fleet, model, vec![Fact::Removal(removal)], Frame { actor, now, occurred_at: request.occurred_at })
}

fn value(code: &'static str, pointer: &str, text: String) -> Broken {
    Broken { code, kind: Kind::Value, pointer: pointer.to_owned(), text }
}

fn model_of(fleet: &Fleet, component: ComponentId, at: Instant) -> Option<ModelId> {
    match fleet.place_at(component, at) {
        Place::InModel(model, _) => Some(model),
        Place::InPanel(..) | Place::Loose => None,
    }
}

/// Tries the facts one after another on a copy of the Fleet and compares the model before and after.
fn finish(
    fleet: &Fleet,
    model: Option<ModelId>,
    facts: Vec<Fact>,
    frame: Frame,
) -> Result<SwapPlan, Vec<Broken>> {
    let mut changed = fleet.clone();
    for fact in &facts {
        let broken = check(&changed, fact, frame.now);
        if !broken.is_empty() {
            return Err(broken);
        }
        changed.apply(&Recorded {
            fact: fact.clone(),
            recorded_at: frame.now,
            recorded_by: frame.actor,
            revision: fleet.revision().saturating_add(1),
        });
    }
    let answer = compare(fleet, &changed, model, frame);
    Ok(SwapPlan { facts, answer })
}

fn compare(before: &Fleet, after: &Fleet, model: Option<ModelId>, frame: Frame) -> SwapAnswer {
    let empty = SwapAnswer {
        model: None,
        is_preview: true,
        before: None,
        after: None,
        delta: None,
        range: None,
        nose_weight_g: None,
        nose_weight_x_mm: None,
        checks_opened: Vec::new(),
        findings: Vec::new(),
        method: None,
    };
    let Some(model) = model else { return empty };
    let just_before = Instant::from_micros(frame.occurred_at.micros().saturating_sub(1));
    let was = balance(before, model, just_before);
    let is = balance(after, model, frame.occurred_at);
    let moment = Moment::today(after, frame.now.max(frame.occurred_at));
    let opened = checks_opened(before, after, model, moment);
    let delta = was.as_ref().zip(is.as_ref()).map(|(was, is)| SwapDelta {
        mass_g: is.mass_g - was.mass_g,
        x_mm: is.x_mm - was.x_mm,
        y_mm: is.y_mm - was.y_mm,
        z_mm: is.z_mm - was.z_mm,
        ..inertia_delta(before, after, model, just_before, frame.occurred_at)
    });
    let nose_weight_x_mm = is.as_ref().and_then(|is| is.nose_weight_x_mm);
    let nose_weight_g = was
        .as_ref()
        .zip(is.as_ref())
        .zip(nose_weight_x_mm)
        .and_then(|((was, is), place_mm)| trim_weight_g(is.mass_g, is.x_mm, was.x_mm, place_mm).ok());
    SwapAnswer {
        model: Some(after.model_tag(model)),
        before: was.as_ref().map(mass_and_cg),
        after: is.as_ref().map(mass_and_cg),
        delta,
        range: is.as_ref().map(|is| is.range),
        nose_weight_g,
        nose_weight_x_mm,
        checks_opened: opened,
        method: is.as_ref().map(|is| is.method),
        findings: is.map(|is| is.findings).unwrap_or_default(),
        ..empty
    }
}

fn mass_and_cg(balanced: &Balanced) -> MassAndCg {
    MassAndCg { mass_g: balanced.mass_g, x_mm: balanced.x_mm, y_mm: balanced.y_mm, z_mm: balanced.z_mm }
}

fn inertia_delta(before: &Fleet, after: &Fleet, model: ModelId, then: Instant, now: Instant) -> SwapDelta {
    let of_list = |fleet: &Fleet, at: Instant| inertia_of_list(&list_of(&mass_items(fleet, model, at)));
    let change = of_list(before, then).zip(of_list(after, now)).map(|(was, is)| inertia_change(&was, &is));
    SwapDelta {
        mass_g: 0.0,
        x_mm: 0.0,
        y_mm: 0.0,
        z_mm: 0.0,
        roll_inertia_pct: change.and_then(|change| change.roll_percent),
        pitch_inertia_pct: change.and_then(|change| change.pitch_percent),
        yaw_inertia_pct: change.and_then(|change| change.yaw_percent),
    }
}

/// Codes of the event groups that the change opens, or opens further.
fn checks_opened(before: &Fleet, after: &Fleet, model: ModelId, moment: Moment) -> Vec<String> {
    let was = due_of_model(before, model, moment);
    due_of_model(after, model, moment)
        .into_iter()
        .filter(|item| {
            let known =
                was.iter().find(|known| known.group == item.group).map_or(&[][..], |known| &known.opened_by);
            item.opened_by.iter().any(|opened| !known.contains(opened))
        })
        .map(|item| item.group)
        .collect()
}
