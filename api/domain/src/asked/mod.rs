//! Questions as they are asked in words: a path and parameters, answered from a Fleet.
//!
//! The service and the command line that works from a copy both answer through here, so that the same question gets the
//! same answer wherever it is asked. Here: what the parameters mean, which items their names mean, what the asker may
//! see. Not here: the answers themselves ([`crate::answers`]), where the Fleet comes from, and transport.
//!
//! * `wanted`: when is asked about · `sight`: what the asker may know of · `sent`: facts as they were sent
//! * `fleet`, `model`, `parts`, `contests`: the questions

mod contests;
mod fleet;
mod model;
mod parts;
mod sent;
mod sight;
mod wanted;

use serde::Serialize;
use uuid::Uuid;

pub use contests::{PLAN, contest_readiness, contest_work_asked, entry_readiness, refuse_plan};
pub use fleet::{
    audit_seen, campaign_progress, campaigns, changes, corrects_older, defect_standing, due, findings,
    may_fly, questions, repair_sheet, stock, whereabouts,
};
pub use model::{balance, ballast, class_asked_for, class_check, limits, model_usage, readiness};
pub use parts::{exchange, history, life, spares, trend, usage};
pub use sent::{make_whole, names_ids_alone, resolve, resolve_at_pointers};
pub use sight::{Finds, Sight};
pub use wanted::{COMMON, Wanted};

use crate::{
    answers::{Moment, compute::answer as compute, compute::compute_plan, frame},
    facts::Noun,
    fleet::{Fleet, Names},
    ids::{ComponentId, MemberId, ModelId},
    rules::may::{may_see_component, may_see_model},
    time::Instant,
};

/// Why a question was not answered.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Refused {
    /// A parameter does not fit.
    Parameter {
        /// Its name.
        name: String,
        /// What is wrong and how to mend it.
        text: String,
    },
    /// What the path names is not there, or not for the asker.
    NotFound(String),
    /// It is not for the asker.
    NotAllowed(String),
    /// No such question can be answered here.
    NoSuchQuestion,
}

impl Refused {
    /// A parameter does not fit.
    pub fn parameter(name: &str, text: impl Into<String>) -> Self {
        Self::Parameter { name: name.to_owned(), text: text.into() }
    }

    /// A parameter names an item that nobody has.
    #[must_use]
    pub fn unknown_in(parameter: &str, noun: Noun, name: &str) -> Self {
        Self::parameter(parameter, not_among(noun, name))
    }

    /// The path names an item that nobody has.
    #[must_use]
    pub fn not_found(noun: Noun, name: &str) -> Self {
        Self::NotFound(not_among(noun, name))
    }
}

fn not_among(noun: Noun, name: &str) -> String {
    format!("There is no `{name}` among the {noun}.")
}

/// A question about the fleet, with all that it depends on.
#[derive(Clone, Copy)]
pub struct Asked<'a> {
    /// The Fleet as it was known.
    pub fleet: &'a Fleet,
    /// The ids and tags of its items.
    pub names: &'a Names,
    /// The moment and day asked about.
    pub moment: Moment,
    /// Who asks.
    pub member: MemberId,
    /// Whether the asker sees the whole fleet, or only what is on loan to them.
    pub sees_all: bool,
    /// The service's clock.
    pub now: Instant,
    /// The parameters.
    pub pairs: &'a [(String, String)],
}

impl<'a> Asked<'a> {
    /// A parameter of the question's own.
    #[must_use]
    pub fn parameter(&self, wanted: &str) -> Option<&'a str> {
        self.pairs.iter().find(|(name, _)| name == wanted).map(|(_, value)| value.as_str())
    }

    /// What the asker may know of.
    #[must_use]
    pub fn sight(&self) -> Sight<'a> {
        Sight::new(self.fleet, self.names, self.member, self.now)
    }

    /// The item of a noun that a parameter names.
    ///
    /// # Errors
    /// There is none, or none that the asker may know of.
    pub fn item(&self, wanted: &str, noun: Noun) -> Result<Option<Uuid>, Refused> {
        let find =
            |name: &str| self.sight().find(noun, name).ok_or_else(|| Refused::unknown_in(wanted, noun, name));
        self.parameter(wanted).map(find).transpose()
    }

    /// The items of a noun that a parameter names, with commas between.
    ///
    /// # Errors
    /// One of them is not there, or not for the asker.
    pub fn items(&self, wanted: &str, noun: Noun) -> Result<Option<Vec<Uuid>>, Refused> {
        let Some(names) = self.parameter(wanted) else { return Ok(None) };
        let sight = self.sight();
        let find = |name: &str| sight.find(noun, name).ok_or_else(|| Refused::unknown_in(wanted, noun, name));
        names.split(',').map(str::trim).map(find).collect::<Result<_, _>>().map(Some)
    }

    /// The models that the parameter `models` names.
    ///
    /// # Errors
    /// As [`Asked::items`].
    pub fn models(&self) -> Result<Option<Vec<ModelId>>, Refused> {
        let models = self.items("models", Noun::Models)?;
        Ok(models.map(|ids| ids.into_iter().map(ModelId).collect()))
    }

    /// The model that the parameter `model` names, if the asker may see it.
    ///
    /// # Errors
    /// There is none, or none that the asker may know of.
    pub fn model_asked_for(&self) -> Result<Option<ModelId>, Refused> {
        self.parameter("model").map(|name| self.model(name)).transpose()
    }

    /// The model that a name means, if the asker may see it.
    ///
    /// # Errors
    /// There is none, or none that the asker may know of.
    pub fn model(&self, name: &str) -> Result<ModelId, Refused> {
        let found = self.names.find(Noun::Models, name).map(ModelId).filter(|id| self.sees_model(*id));
        found.ok_or_else(|| Refused::not_found(Noun::Models, name))
    }

    /// The component that a name means, if the asker may see it.
    ///
    /// # Errors
    /// There is none, or none that the asker may know of.
    pub fn component(&self, name: &str) -> Result<ComponentId, Refused> {
        let sees =
            |id: &ComponentId| self.sees_all || may_see_component(self.fleet, self.member, *id, self.now);
        let found = self.names.find(Noun::Components, name).map(ComponentId).filter(sees);
        found.ok_or_else(|| Refused::not_found(Noun::Components, name))
    }

    /// Whether the asker may see a model.
    #[must_use]
    pub fn sees_model(&self, id: ModelId) -> bool {
        self.sees_all || may_see_model(self.fleet, self.member, id, self.now)
    }

    /// Whether the asker may see the model with a tag.
    #[must_use]
    pub fn sees_model_tagged(&self, tag: &str) -> bool {
        self.sees_all || self.names.find(Noun::Models, tag).is_some_and(|id| self.sees_model(ModelId(id)))
    }
}

/// The parameters that the question behind a path knows besides the common ones; absent where [`answer`] has no such
/// question. `/changes` is none of these: it needs an earlier Fleet too.
#[must_use]
pub fn parameters(path: &[&str]) -> Option<&'static [&'static str]> {
    Some(match path {
        ["may-fly"] => fleet::MAY_FLY,
        ["due"] => fleet::DUE,
        ["findings"] => fleet::FINDINGS,
        ["where"] => fleet::WHERE,
        ["stock"] => fleet::STOCK,
        ["exchange"] => parts::EXCHANGE,
        ["campaigns", _, "progress"] => fleet::PROGRESS,
        ["life"] => parts::LIFE,
        ["spares"] => parts::SPARES,
        ["components", _, "trend"] => parts::TREND,
        ["models", _, "ballast"] => model::BALLAST,
        ["models", _, "limits"] => model::LIMITS,
        ["models", _, "class-check"] => model::CLASS_CHECK,
        ["models", _, "readiness"] => model::READINESS,
        ["contests", _, "plan"] => PLAN,
        ["open-questions" | "campaign-progress"]
        | ["components", _, "usage" | "history"]
        | ["defects", _, "standing"]
        | ["repairs", _, "sheet"]
        | ["models", _, "balance" | "usage"]
        | ["contests" | "entries", _, "readiness"] => &[],
        _ => return None,
    })
}

/// Answers the question behind a path, such as `["models", "SG-05", "balance"]`, as JSON text in its frame.
///
/// # Errors
/// What the question names is not there, a parameter does not fit, or there is no such question.
pub fn answer(asked: &Asked<'_>, path: &[&str]) -> Result<String, Refused> {
    match path {
        ["may-fly"] => framed(asked, may_fly(asked)?()),
        ["due"] => framed(asked, due(asked)?()),
        ["findings"] => framed(asked, findings(asked)?()),
        ["where"] => framed(asked, whereabouts(asked)?()),
        ["stock"] => framed(asked, stock(asked)?()),
        ["exchange"] => framed(asked, exchange(asked)?()),
        ["open-questions"] => framed(asked, questions(asked)),
        ["campaign-progress"] => framed(asked, campaigns(asked)),
        ["campaigns", name, "progress"] => framed(asked, campaign_progress(asked, name)?),
        ["defects", name, "standing"] => framed(asked, defect_standing(asked, name)?),
        ["repairs", name, "sheet"] => framed(asked, repair_sheet(asked, name)?),
        ["life"] => framed(asked, life(asked)?),
        ["spares"] => framed(asked, spares(asked)?),
        ["components", name, "usage"] => framed(asked, usage(asked, name)?()),
        ["components", name, "history"] => framed(asked, history(asked, name)?()),
        ["components", name, "trend"] => framed(asked, trend(asked, name)?),
        ["models", name, "usage"] => framed(asked, model_usage(asked, name)?()),
        ["models", name, "balance"] => framed(asked, balance(asked, name)?),
        ["models", name, "ballast"] => framed(asked, ballast(asked, name)?),
        ["models", name, "limits"] => framed(asked, limits(asked, name)?),
        ["models", name, "class-check"] => framed(asked, class_check(asked, name)?),
        ["models", name, "readiness"] => framed(asked, readiness(asked, name)?),
        ["contests", name, "readiness"] => framed(asked, contest_readiness(asked, name)?),
        ["entries", name, "readiness"] => framed(asked, entry_readiness(asked, name)?),
        ["contests", name, "plan"] => {
            let mut work = contest_work_asked(asked, name)?;
            if let Some(question) = &work.question {
                let plan = compute(question, compute_plan).map_err(|bad| refuse_plan(&work, &bad))?;
                work.plan = Some(plan);
            }
            framed(asked, work)
        }
        _ => Err(Refused::NoSuchQuestion),
    }
}

/// An answer in its frame, as JSON text: letter by letter what the service sends.
///
/// # Errors
/// Never for the shapes of this crate, all of which can be written.
pub fn framed<T: Serialize>(asked: &Asked<'_>, answer: T) -> Result<String, Refused> {
    serde_json::to_string(&frame(asked.fleet, asked.moment.as_of, answer))
        .map_err(|error| Refused::NotFound(format!("The answer cannot be written: {error}.")))
}
