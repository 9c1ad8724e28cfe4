//! Work sheets of the repairs: what is done in which order, with what, and who checks and releases it. They are data,
//! one file a kind, read once; what was ticked on a sheet is a fact of its own, and who may release is a rule.
//!
//! The hours, limits and habits are common practice of builders, no source; who signs is club practice and grants
//! nothing under any law.

use std::sync::LazyLock;

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::{formulas::cure::Resin, quantities::quantity, text_enum, words::RepairKind};

text_enum! {
    /// How much hangs on a work, which decides who looks and who releases.
    WorkClass {
        /// Battery, tape, cover, ballast, blades: the owner does and releases it.
        Ordinary = "ordinary",
        /// A fit or a connector: somebody else reads it back.
        Connector = "connector",
        /// Servo, linkage, horn, hinge: a second person looks and releases it.
        Control = "control",
        /// Spar, joiner sleeve, boom: a second person looks, an inspector releases it.
        Structure = "structure",
    }
}

text_enum! {
    /// What a second person, who never did the work, has to do.
    SecondPerson { None = "none", ReadsBack = "reads_back", Looks = "looks" }
}

text_enum! {
    /// Who says fit after work.
    ReleasedBy {
        Owner = "owner", OwnerOrReader = "owner_or_reader", SecondPerson = "second_person", Inspector = "inspector",
    }
}

text_enum! {
    /// What a sheet keeps beside its ticks.
    SheetDetail { Joiner = "joiner", Connector = "connector", Cover = "cover", Servo = "servo" }
}

/// A work sheet.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Worksheet {
    /// Kind of repair.
    pub kind: RepairKind,
    /// Its name.
    pub title: String,
    /// What it is for.
    pub purpose: String,
    /// How much hangs on it.
    pub class_of_work: WorkClass,
    /// Who may do it, in words.
    pub done_by: String,
    /// What a second person has to do.
    pub second_person: SecondPerson,
    /// Who releases it.
    pub released_by: ReleasedBy,
    /// Tools to have at hand.
    pub tools: Vec<String>,
    /// Materials, and how those that cure do so.
    pub materials: Vec<SheetMaterial>,
    /// The steps, in order.
    pub steps: Vec<SheetStep>,
    /// Limits that hold for it.
    pub limits: Vec<String>,
    /// What has to be looked at again.
    pub reopens: Vec<Reopened>,
    /// Quantities of the part that the work makes anew: their readings start another series.
    pub renews: Vec<String>,
    /// Whether parts come off and on.
    pub changes_parts: bool,
    /// What mass to expect, in words.
    pub mass: String,
    /// What is kept beside the ticks.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub keeps: Option<SheetDetail>,
    /// A cure in this repair is never taken shorter than this, hours.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub shortest_cure_h: Option<f64>,
    /// Warm finish of the resin after its cure.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub post_cure: Option<PostCure>,
    /// Whether the first flight after it goes without full-power zoom and dive.
    pub restricts_first_flight: bool,
}

/// A material of a work sheet.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct SheetMaterial {
    /// What it is.
    pub text: String,
    /// How it cures, if it does.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub resin: Option<Resin>,
}

/// One step of a work sheet.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct SheetStep {
    /// Its number, from 1.
    pub number: u32,
    /// What is done.
    pub text: String,
    /// What can hurt a person or the model at this step.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub caution: Option<String>,
    /// What is recorded at this step.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub record: Option<String>,
    /// Whether it may be left out without a word.
    #[serde(default, skip_serializing_if = "is_false")]
    pub is_optional: bool,
}

/// Items of a check group that have to be passed again after the work.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Reopened {
    /// Its code without the interval: `JN` stands for `JN40`. `RP` is passed before the release.
    pub group: String,
    /// The items that have to be passed; the rest of the group stays as it is.
    pub items: Vec<String>,
    /// What is looked at.
    pub text: String,
}

/// A warm finish of a resin.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct PostCure {
    /// Temperature, °C.
    pub temperature_c: f64,
    /// Hours at it; null: by the data sheet.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub hours: Option<f64>,
}

/// All work sheets.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct Worksheets {
    /// One a kind of repair, in their order.
    pub worksheets: Vec<Worksheet>,
}

/// Serde hands fields over by reference.
const fn is_false(flag: &bool) -> bool {
    !*flag
}

impl Worksheet {
    /// Whether the work ends a series of readings. A quantity that the product does not know ends with any work on its
    /// part: nobody can say what it depends on.
    #[must_use]
    pub fn ends_series_of(&self, name: &str) -> bool {
        self.renews.iter().any(|renewed| renewed == name) || quantity(name).is_none()
    }
}

impl Reopened {
    /// Whether a group of a programme is the one meant: `JN40` is `JN`, with any interval behind it.
    #[must_use]
    pub fn means(&self, code: &str) -> bool {
        code == self.group || code.trim_end_matches(|c: char| c.is_ascii_digit()) == self.group
    }
}

macro_rules! embedded {
    ($($kind:ident: $name:literal),+ $(,)?) => {
        const fn text_of(kind: RepairKind) -> &'static str {
            match kind { $(RepairKind::$kind => include_str!(concat!($name, ".json"))),+ }
        }
    };
}

embedded! {
    JoinerTight: "R1", JoinerLoose: "R2", ConnectorRetermination: "R3", ServoCover: "R4", ServoSwapScrewed: "R5",
    ServoSwapBonded: "R6", Horn: "R7", Hinge: "R8", LeadingEdge: "R9", BoomOrFuselage: "R10", SparOrSocket: "R11",
    PackReplaced: "R12", MotorAndPropeller: "R13",
}

static SHEETS: LazyLock<Vec<Worksheet>> = LazyLock::new(|| {
    #[expect(clippy::expect_used, reason = "the files are part of the program, and a test reads every one")]
    let read = |kind: &RepairKind| serde_json::from_str(text_of(*kind)).expect("a work sheet reads");
    RepairKind::ALL.iter().map(read).collect()
});

/// All work sheets, in the order of their kinds.
#[must_use]
pub fn worksheets() -> &'static [Worksheet] {
    &SHEETS
}

/// The work sheet of a kind of repair.
///
/// ```
/// use preen_domain::{words::RepairKind, worksheets::{WorkClass, worksheet}};
/// assert_eq!(worksheet(RepairKind::Hinge).class_of_work, WorkClass::Control);
/// ```
#[must_use]
pub fn worksheet(kind: RepairKind) -> &'static Worksheet {
    #[expect(clippy::expect_used, reason = "a test finds every kind among the sheets")]
    SHEETS.iter().find(|sheet| sheet.kind == kind).expect("every kind has its sheet")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_kind_has_its_sheet_with_numbered_steps() {
        assert_eq!(worksheets().len(), RepairKind::ALL.len());
        for (kind, sheet) in RepairKind::ALL.iter().zip(worksheets()) {
            assert_eq!((sheet.kind, worksheet(*kind)), (*kind, sheet));
            let numbers: Vec<u32> = sheet.steps.iter().map(|step| step.number).collect();
            assert_eq!(numbers, (1..).take(sheet.steps.len()).collect::<Vec<u32>>(), "{kind}");
            assert!(sheet.steps.iter().filter(|step| !step.is_optional).count() > 3, "{kind}");
            assert!(
                !sheet.tools.is_empty() && !sheet.materials.is_empty() && !sheet.reopens.is_empty(),
                "{kind}"
            );
        }
    }

    #[test]
    fn the_class_decides_who_looks_and_who_releases() {
        for sheet in worksheets() {
            let expected = match sheet.class_of_work {
                WorkClass::Ordinary => (SecondPerson::None, ReleasedBy::Owner),
                WorkClass::Connector => (SecondPerson::ReadsBack, ReleasedBy::OwnerOrReader),
                WorkClass::Control => (SecondPerson::Looks, ReleasedBy::SecondPerson),
                WorkClass::Structure => (SecondPerson::Looks, ReleasedBy::Inspector),
            };
            assert_eq!((sheet.second_person, sheet.released_by), expected, "{}", sheet.kind);
        }
        let of = |class| {
            let sheets = worksheets().iter().filter(|sheet| sheet.class_of_work == class);
            sheets.map(|sheet| sheet.kind.as_str()).collect::<Vec<_>>().join(" ")
        };
        assert_eq!(of(WorkClass::Ordinary), "R4 R9 R12 R13");
        assert_eq!(of(WorkClass::Connector), "R1 R3");
        assert_eq!(of(WorkClass::Control), "R5 R6 R7 R8");
        assert_eq!(of(WorkClass::Structure), "R2 R10 R11");
    }

    #[test]
    fn dust_resin_packs_and_propellers_are_warned_of_at_the_step() {
        let cautions = |kind| {
            let steps = worksheet(kind).steps.iter().filter_map(|step| step.caution.as_deref());
            steps.collect::<Vec<_>>().join(" ")
        };
        for kind in [RepairKind::JoinerTight, RepairKind::LeadingEdge, RepairKind::BoomOrFuselage] {
            assert!(cautions(kind).contains("FFP2"), "{kind}");
        }
        for kind in [RepairKind::JoinerLoose, RepairKind::Hinge, RepairKind::SparOrSocket] {
            assert!(cautions(kind).contains("nitrile"), "{kind}");
        }
        assert!(cautions(RepairKind::PackReplaced).contains("no charge below 5 °C"));
        assert!(cautions(RepairKind::MotorAndPropeller).contains("Propeller off"));
    }

    #[test]
    fn work_ends_the_series_of_what_it_makes_anew_and_of_nothing_else() {
        for sheet in worksheets() {
            assert!(!sheet.renews.is_empty(), "{}", sheet.kind);
            for name in &sheet.renews {
                assert!(quantity(name).is_some(), "{}: {name}", sheet.kind);
            }
        }
        let ends = |kind, name| worksheet(kind).ends_series_of(name);
        assert!(ends(RepairKind::ConnectorRetermination, "contact_resistance_worst"));
        assert!(!ends(RepairKind::ConnectorRetermination, "lead_slack"));
        assert!(ends(RepairKind::JoinerLoose, "joiner_clearance_vertical"));
        assert!(!ends(RepairKind::LeadingEdge, "joiner_clearance_vertical"));
        assert!(ends(RepairKind::ServoSwapBonded, "servo_free_play"));
        assert!(!ends(RepairKind::ServoCover, "servo_free_play"));
        assert!(ends(RepairKind::ServoCover, "gloss_of_the_paint"), "nobody knows");
    }

    #[test]
    fn a_group_is_meant_with_any_interval() {
        let joiner = worksheet(RepairKind::JoinerTight).reopens.first().expect("it reopens a group");
        assert!(joiner.means("JN40") && joiner.means("JN") && !joiner.means("N40") && !joiner.means("RG"));
    }
}
