//! One identifier type for each noun, made by the client as a UUID of version 7.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;

macro_rules! ids {
    ($($(#[$meta:meta])* $name:ident),+ $(,)?) => {$(
        $(#[$meta])*
        #[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize, ToSchema)]
        #[serde(transparent)]
        #[schema(value_type = String, format = Uuid, example = "01970a3c-5d00-7000-8000-000000000001")]
        pub struct $name(pub Uuid);

        // As the bytes are ordered, by one comparison of numbers: trees are searched by these.
        impl Ord for $name {
            fn cmp(&self, other: &Self) -> std::cmp::Ordering { self.0.as_u128().cmp(&other.0.as_u128()) }
        }

        impl PartialOrd for $name {
            fn partial_cmp(&self, other: &Self) -> Option<std::cmp::Ordering> { Some(self.cmp(other)) }
        }

        impl std::fmt::Display for $name {
            fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result { self.0.fmt(f) }
        }

        impl std::str::FromStr for $name {
            type Err = uuid::Error;
            fn from_str(text: &str) -> Result<Self, Self::Err> { Uuid::parse_str(text).map(Self) }
        }

        impl From<Uuid> for $name { fn from(id: Uuid) -> Self { Self(id) } }
        impl From<$name> for Uuid { fn from(id: $name) -> Self { id.0 } }
    )+};
}

ids! {
    /// A club.
    ClubId,
    /// A member of the club.
    MemberId,
    /// An access token.
    TokenId,
    /// What a model is built to.
    DesignId,
    /// A model aircraft.
    ModelId,
    /// A part type.
    PartId,
    /// An individual part.
    ComponentId,
    /// A change of a component's kept state.
    ConditionId,
    /// A component put into a position.
    InstallationId,
    /// A component taken out of a position.
    RemovalId,
    /// A flight, or a hand-launch session.
    FlightId,
    /// An assembly of a model.
    RiggingId,
    /// An inspection programme.
    ProgrammeId,
    /// A check that was done.
    InspectionId,
    /// A reading.
    MeasurementId,
    /// A weighing of a model.
    WeighingId,
    /// A defect.
    DefectId,
    /// A deferral of a defect.
    DeferralId,
    /// The closing of a defect without a repair.
    ClosureId,
    /// A repair.
    RepairId,
    /// Work done on a repair.
    RepairStepId,
    /// A club release after a repair.
    ReleaseId,
    /// A fleet-wide action.
    CampaignId,
    /// A part looked at for a campaign.
    CampaignWorkId,
    /// The closing of a campaign.
    CampaignClosureId,
    /// A loan of a part or model.
    LoanId,
    /// The return of a loan.
    LoanReturnId,
    /// A photo.
    PhotoId,
    /// A charge of a pack.
    ChargeId,
    /// Something else that happened to a model or part.
    EventId,
    /// Parts that belong together.
    MatchedSetId,
    /// An accepted fit of a part outside its set.
    PairingId,
    /// A limit of the club.
    LimitId,
    /// A lot of consumables.
    LotId,
    /// Slugs of one stamped mass.
    SlugId,
    /// A contest class.
    ClassId,
    /// A contest.
    ContestId,
    /// An entry to a contest.
    EntryId,
    /// Something that was sent and could not be recorded.
    QuestionId,
    /// The settling of a question.
    SettlementId,
    /// A correction of a fact.
    CorrectionId,
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ids_are_ordered_as_their_texts() {
        let texts = [
            "00000000-0000-7000-8000-0000000000ff",
            "01970a3c-5d00-7000-8000-000000000001",
            "ff000000-0000-7000-8000-000000000000",
        ];
        let ids = texts.map(|text| text.parse::<ModelId>().expect("an id"));
        assert!(ids.is_sorted() && texts.is_sorted());
        assert!(ids[0] < ids[1] && ids[1] < ids[2] && ids[0].cmp(&ids[0]).is_eq());
    }
}
