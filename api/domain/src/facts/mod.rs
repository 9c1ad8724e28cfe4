//! What is recorded: one shape per fact, which is its JSON shape, in one file per noun.
//!
//! A fact is never edited. Master data (members, designs, models, parts, programmes, classes, contests, entries) gets new versions
//! of the same id; everything else is corrected by a [`Correction`] that names it.
//! Whether a fact may be recorded is a question for [`crate::rules`].

mod campaign;
mod charge;
mod class_profile;
mod component;
mod contest;
mod correction;
mod defect;
mod deferral;
mod design;
mod event;
mod feed_line;
mod flight;
mod inspection;
mod installation;
mod limit;
mod loan;
mod lot;
mod matched_set;
mod measurement;
mod member;
mod model;
mod part;
mod photo;
mod programme;
mod question;
mod repair;
mod repair_step;
mod rigging;
mod slug;
mod weighing;

pub use campaign::{Campaign, CampaignAction, CampaignClosure, CampaignWork, Waiver};
pub use charge::Charge;
pub use class_profile::{ClassLimit, ClassProfile};
pub use component::{Component, Condition, OpeningUsage};
pub use contest::{Contest, Entry};
pub use correction::Correction;
pub use defect::{Closure, Defect, Restriction};
pub use deferral::Deferral;
pub use design::{Design, FedLead, Position, SlugCell, Station};
pub use event::Event;
pub use feed_line::FeedLine;
pub use flight::Flight;
pub use inspection::{Inspection, InspectionItem};
pub use installation::{Inside, Installation, Removal};
pub use limit::ClubLimit;
pub use loan::{Loan, LoanReturn};
pub use lot::Lot;
pub use matched_set::{MatchedSet, Pairing};
pub use measurement::{Measurement, Subject};
pub use member::{Member, Permission};
pub use model::Model;
pub use part::Part;
pub use photo::{LONGER_SIDE_PX, MOST_BYTES, Photo, THUMBNAIL_PX};
pub use programme::{Group, Item, Limit, Programme};
pub use question::{Question, QuestionReason, Settlement};
pub use repair::{Release, Repair};
pub use repair_step::{ConnectorWork, CoverWork, JoinerWork, RepairStep, ServoWork, StepTick, UsedMaterial};
pub use rigging::Rigging;
pub use slug::Slug;
pub use weighing::{Support, Weighing};

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;

use crate::{ids::MemberId, text::Tag, time::Instant, words::UnknownWord};

/// A fact as it is read back: what was recorded, and when, by whom and at which revision of the club.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct Recorded<F> {
    /// The fact itself.
    #[serde(flatten)]
    pub fact: F,
    /// When the service accepted it.
    pub recorded_at: Instant,
    /// The member whose access was used.
    pub recorded_by: MemberId,
    /// The club revision at which it was recorded.
    pub revision: i64,
}

impl<F> Recorded<F> {
    /// The same stamp around another shape.
    pub fn with<G>(&self, fact: G) -> Recorded<G> {
        Recorded {
            fact,
            recorded_at: self.recorded_at,
            recorded_by: self.recorded_by,
            revision: self.revision,
        }
    }
}

/// A field of a fact that points at another item: a JSON pointer in which `*` stands for every
/// element of a list, and the noun it points at. Requests may name the item by tag there.
pub type Reference = (&'static str, Noun);

/// The description of a shape, as in the description of the interface.
pub type Schema = utoipa::openapi::RefOr<utoipa::openapi::schema::Schema>;
/// Descriptions that others refer to by name.
pub type NamedSchemas = Vec<(String, Schema)>;

/// What every recorded shape can say of itself.
pub trait FactShape: Sized + Clone + Serialize + for<'de> Deserialize<'de> + Into<Fact> {
    /// The noun it is recorded under.
    const NOUN: Noun;
    /// Fields that point at other items.
    const REFERENCES: &'static [Reference];
    /// Its id, made by the client.
    fn id(&self) -> Uuid;
    /// The code that people read, where it has one.
    fn tag(&self) -> Option<&Tag>;
    /// When it happened; master data and components have no moment.
    fn occurred_at(&self) -> Option<Instant>;
    /// The member it says did it, where that may differ from who records it.
    fn signed_by(&self) -> Option<MemberId>;
    /// Says who did it, where the shape has room for that.
    fn sign(&mut self, by: MemberId);
}

macro_rules! facts {
    ($($shape:ident, $noun:ident, $word:literal, master: $master:literal, tag: $tag:tt, at: $at:tt, by: $by:tt,
       refs: [$($pointer:literal => $target:ident),*];)+) => {
        /// A noun of the record, plural as in its route.
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, ToSchema)]
        #[serde(rename_all = "kebab-case")]
        pub enum Noun { $(#[doc = concat!("Route `", $word, "`.")] $noun),+ }

        impl Noun {
            /// All nouns, in an order in which nothing points at something that comes later.
            pub const ALL: &'static [Self] = &[$(Self::$noun),+];

            /// The word in routes and in the trail.
            #[must_use]
            pub const fn as_str(self) -> &'static str { match self { $(Self::$noun => $word),+ } }

            /// Whether later versions of the same id replace earlier ones.
            #[must_use]
            pub const fn is_master_data(self) -> bool { match self { $(Self::$noun => $master),+ } }
        }

        impl std::fmt::Display for Noun {
            fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result { f.pad(self.as_str()) }
        }

        impl std::str::FromStr for Noun {
            type Err = UnknownWord;
            fn from_str(given: &str) -> Result<Self, UnknownWord> {
                Self::ALL.iter().copied().find(|noun| noun.as_str() == given).ok_or_else(|| UnknownWord {
                    given: given.to_owned(),
                    allowed: Self::ALL.iter().map(|noun| noun.as_str()).collect::<Vec<_>>().join(", "),
                })
            }
        }

        /// Any fact.
        #[expect(clippy::large_enum_variant, reason = "facts are read one at a time, and kept in their own shapes")]
        #[derive(Debug, Clone, PartialEq, Serialize)]
        #[serde(untagged)]
        pub enum Fact { $(#[doc = concat!("One of `", $word, "`.")] $shape($shape)),+ }

        impl Fact {
            /// The noun it is recorded under.
            #[must_use]
            pub const fn noun(&self) -> Noun { match self { $(Self::$shape(_) => Noun::$noun),+ } }
            /// Its id, made by the client.
            #[must_use]
            pub fn id(&self) -> Uuid { match self { $(Self::$shape(fact) => fact.id()),+ } }
            /// The code that people read, where it has one.
            #[must_use]
            pub fn tag(&self) -> Option<&Tag> { match self { $(Self::$shape(fact) => fact.tag()),+ } }
            /// When it happened.
            #[must_use]
            pub fn occurred_at(&self) -> Option<Instant> { match self { $(Self::$shape(fact) => fact.occurred_at()),+ } }
            /// The member it says did it.
            #[must_use]
            pub fn signed_by(&self) -> Option<MemberId> { match self { $(Self::$shape(fact) => fact.signed_by()),+ } }

            /// Reads the JSON of one fact of a noun.
            ///
            /// # Errors
            /// Says which field does not fit.
            pub fn from_json(noun: Noun, json: serde_json::Value) -> Result<Self, serde_json::Error> {
                match noun { $(Noun::$noun => serde_json::from_value::<$shape>(json).map(Self::$shape)),+ }
            }
        }

        impl Noun {
            /// The field by which its facts say who did it, where that may differ from who records it.
            #[must_use]
            pub const fn signer_field(self) -> Option<&'static str> {
                match self { $(Self::$noun => facts!(@signer $by)),+ }
            }

            /// Fields of its facts that point at other items.
            #[must_use]
            pub const fn references(self) -> &'static [Reference] {
                match self { $(Self::$noun => <$shape as FactShape>::REFERENCES),+ }
            }
        }

        impl Noun {
            /// The schema of its facts, and those of the shapes it refers to by name.
            #[must_use]
            pub fn schema(self) -> (Schema, NamedSchemas) {
                let mut named = NamedSchemas::new();
                let schema = match self {
                    $(Noun::$noun => {
                        <$shape as ToSchema>::schemas(&mut named);
                        <$shape as utoipa::PartialSchema>::schema()
                    })+
                };
                (schema, named)
            }
        }

        $(
            impl From<$shape> for Fact { fn from(fact: $shape) -> Self { Self::$shape(fact) } }

            impl FactShape for $shape {
                const NOUN: Noun = Noun::$noun;
                const REFERENCES: &'static [Reference] = &[$(($pointer, Noun::$target)),*];
                fn id(&self) -> Uuid { self.id.0 }
                fn tag(&self) -> Option<&Tag> { facts!(@tag self, $tag) }
                fn occurred_at(&self) -> Option<Instant> { facts!(@at self, $at) }
                fn signed_by(&self) -> Option<MemberId> { facts!(@by self, $by) }
                fn sign(&mut self, by: MemberId) { facts!(@sign self, by, $by) }
            }
        )+
    };
    (@tag $self:ident, none) => { None };
    (@tag $self:ident, required) => { Some(&$self.tag) };
    (@tag $self:ident, optional) => { $self.tag.as_ref() };
    (@at $self:ident, none) => { None };
    (@at $self:ident, some) => { Some($self.occurred_at) };
    (@signer none) => { None };
    (@signer $field:ident) => { Some(stringify!($field)) };
    (@by $self:ident, none) => { None };
    (@by $self:ident, $field:ident) => { $self.$field };
    (@sign $self:ident, $by:ident, none) => {{ let _no_room = $by; }};
    (@sign $self:ident, $by:ident, $field:ident) => { $self.$field = Some($by) };
}

facts! {
    Member, Members, "members", master: true, tag: required, at: none, by: none, refs: [];
    Design, Designs, "designs", master: true, tag: required, at: none, by: none,
        refs: ["/positions/*/parts/*" => Parts];
    Part, Parts, "parts", master: true, tag: required, at: none, by: none, refs: [];
    Model, Models, "models", master: true, tag: required, at: none, by: none,
        refs: ["/design" => Designs, "/owner" => Members];
    Programme, Programmes, "programmes", master: true, tag: required, at: none, by: none,
        refs: ["/design" => Designs, "/model" => Models];
    Component, Components, "components", master: false, tag: required, at: none, by: none,
        refs: ["/part" => Parts, "/design" => Designs];
    Condition, Conditions, "conditions", master: false, tag: none, at: some, by: none,
        refs: ["/component" => Components];
    Installation, Installations, "installations", master: false, tag: none, at: some, by: fitted_by,
        refs: ["/component" => Components, "/inside/model" => Models, "/inside/component" => Components,
               "/fitted_by" => Members];
    Removal, Removals, "removals", master: false, tag: none, at: some, by: removed_by,
        refs: ["/installation" => Installations, "/component" => Components, "/removed_by" => Members];
    Flight, Flights, "flights", master: false, tag: optional, at: some, by: none,
        refs: ["/model" => Models, "/pilot" => Members];
    Rigging, Riggings, "riggings", master: false, tag: optional, at: some, by: none, refs: ["/model" => Models];
    Inspection, Inspections, "inspections", master: false, tag: optional, at: some, by: inspected_by,
        refs: ["/model" => Models, "/component" => Components, "/programme" => Programmes,
               "/inspected_by" => Members, "/items/*/component" => Components];
    Measurement, Measurements, "measurements", master: false, tag: optional, at: some, by: measured_by,
        refs: ["/subject/model" => Models, "/subject/component" => Components, "/measured_by" => Members];
    Weighing, Weighings, "weighings", master: false, tag: optional, at: some, by: weighed_by,
        refs: ["/model" => Models, "/weighed_by" => Members];
    Defect, Defects, "defects", master: false, tag: optional, at: some, by: found_by,
        refs: ["/model" => Models, "/subject/model" => Models, "/subject/component" => Components,
               "/found_by" => Members];
    Deferral, Deferrals, "deferrals", master: false, tag: optional, at: some, by: deferred_by,
        refs: ["/defect" => Defects, "/deferred_by" => Members];
    Closure, Closures, "closures", master: false, tag: none, at: some, by: closed_by,
        refs: ["/defect" => Defects, "/measurement" => Measurements, "/closed_by" => Members];
    Repair, Repairs, "repairs", master: false, tag: optional, at: some, by: done_by,
        refs: ["/model" => Models, "/components/*" => Components, "/defect" => Defects, "/done_by" => Members];
    Release, Releases, "releases", master: false, tag: none, at: some, by: released_by,
        refs: ["/repair" => Repairs, "/released_by" => Members, "/second_person" => Members];
    Campaign, Campaigns, "campaigns", master: false, tag: optional, at: some, by: opened_by,
        refs: ["/part" => Parts, "/opened_by" => Members];
    CampaignWork, CampaignWorks, "campaign-works", master: false, tag: none, at: some, by: done_by,
        refs: ["/campaign" => Campaigns, "/component" => Components, "/done_by" => Members];
    CampaignClosure, CampaignClosures, "campaign-closures", master: false, tag: none, at: some, by: closed_by,
        refs: ["/campaign" => Campaigns, "/waived/*/component" => Components, "/closed_by" => Members];
    Loan, Loans, "loans", master: false, tag: optional, at: some, by: none,
        refs: ["/item/model" => Models, "/item/component" => Components, "/lent_to" => Members,
               "/for_model" => Models];
    LoanReturn, LoanReturns, "loan-returns", master: false, tag: none, at: some, by: none,
        refs: ["/loan" => Loans];
    ClubLimit, Limits, "limits", master: true, tag: required, at: none, by: none, refs: [];
    Lot, Lots, "lots", master: true, tag: required, at: none, by: none, refs: [];
    RepairStep, RepairSteps, "repair-steps", master: false, tag: none, at: some, by: done_by,
        refs: ["/repair" => Repairs, "/materials/*/lot" => Lots, "/parts_off/*" => Components,
               "/parts_on/*" => Components, "/joiner/component" => Components, "/connector/component" => Components,
               "/servo/component" => Components, "/done_by" => Members];
    Photo, Photos, "photos", master: false, tag: none, at: some, by: taken_by,
        refs: ["/subject/model" => Models, "/subject/component" => Components, "/defect" => Defects,
               "/repair" => Repairs, "/inspection" => Inspections, "/taken_by" => Members];
    Slug, Slugs, "slugs", master: true, tag: required, at: none, by: none, refs: ["/design" => Designs];
    MatchedSet, MatchedSets, "matched-sets", master: true, tag: required, at: none, by: none,
        refs: ["/component" => Components, "/mates/*" => Components];
    Pairing, Pairings, "pairings", master: false, tag: none, at: some, by: accepted_by,
        refs: ["/component" => Components, "/mates/*" => Components, "/accepted_by" => Members];
    ClassProfile, Classes, "classes", master: true, tag: required, at: none, by: none,
        refs: ["/confirmed_by" => Members];
    Contest, Contests, "contests", master: true, tag: required, at: none, by: none, refs: [];
    Entry, Entries, "entries", master: true, tag: optional, at: none, by: none,
        refs: ["/contest" => Contests, "/pilot" => Members, "/model" => Models, "/reserves/*" => Models,
               "/parts/*" => Components];
    Charge, Charges, "charges", master: false, tag: optional, at: some, by: none,
        refs: ["/component" => Components];
    Event, Events, "events", master: false, tag: optional, at: some, by: none, refs: ["/model" => Models];
    Question, Questions, "questions", master: false, tag: none, at: some, by: none, refs: [];
    Settlement, Settlements, "settlements", master: false, tag: none, at: some, by: none,
        refs: ["/question" => Questions];
    Correction, Corrections, "corrections", master: false, tag: none, at: none, by: none, refs: [];
}
