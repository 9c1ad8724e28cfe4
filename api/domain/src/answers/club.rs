//! Which club is asked, what time it is there, and as whom the asker is known.

use chrono_tz::Tz;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::{
    fleet::Club,
    ids::{ClubId, MemberId},
    text::BadText,
    time::Instant,
    words::{Role, Scope},
};

/// What a program must know before it can ask in the club's own terms.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct ClubSaid {
    /// Short name of the club, which its tokens carry.
    pub club: String,
    /// Its id among all clubs.
    pub club_id: ClubId,
    /// Its name for people.
    pub title: String,
    /// Zone in which its days begin and end.
    #[schema(value_type = String, example = "Europe/London")]
    pub time_zone: Tz,
    /// The time by the service's clock.
    pub now: Instant,
    /// The newest revision of its record.
    pub revision: i64,
    /// Tag of the member who asks.
    pub member: String,
    /// Their id.
    pub member_id: MemberId,
    /// What that member may do.
    pub roles: Vec<Role>,
    /// What the token may be used for.
    pub scopes: Vec<Scope>,
}

impl ClubSaid {
    /// The club, as a Fleet is made for it.
    ///
    /// # Errors
    /// Its short name is none.
    pub fn club(&self) -> Result<Club, BadText> {
        Ok(Club {
            id: self.club_id,
            tag: self.club.parse()?,
            title: self.title.clone(),
            zone: self.time_zone,
        })
    }
}
