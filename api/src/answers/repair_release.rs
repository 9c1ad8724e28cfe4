//! The release of a repair as a command: previewed, or recorded like any release. What stands against it and who may
//! give it is the record's business, whichever way it comes.

use actix_web::{HttpResponse, post, web};
use preen_domain::answers::{ReleaseShown, repair_sheet};
use preen_domain::facts::{Noun, Release};
use preen_domain::fleet::Fleet;
use preen_domain::ids::{MemberId, ReleaseId, RepairId};
use preen_domain::text::Text;
use preen_domain::time::Instant;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::access::actor::Writer;
use crate::access::sight::{Finds as _, sight_of};
use crate::problem::Problem;
use crate::resources::body::{Body, fill_in, is_preview, parse_fact, resolve};
use crate::resources::entry::{command, not_found};
use crate::resources::page::Pairs;
use crate::routes::Routes;
use crate::state::Shared;

/// The club release of the repair in the path.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct RepairReleasing {
    /// Id made by the client (UUIDv7).
    pub id: ReleaseId,
    /// The repair, as the path says it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub repair: Option<RepairId>,
    /// When.
    pub occurred_at: Instant,
    /// The second person who looked at it or read it back; never a worker.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub second_person: Option<MemberId>,
    /// Who gives it, if not the member who records it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub released_by: Option<MemberId>,
    /// Anything else worth knowing.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub note: Option<Text>,
}

impl RepairReleasing {
    fn of(self, repair: RepairId) -> Release {
        let Self { id, occurred_at, second_person, released_by, note, .. } = self;
        Release { id, repair, occurred_at, second_person, released_by, note }
    }
}

/// Gives the club release of a repair, or says beforehand what that would do. It is refused before the cure is over,
/// with the hour, and for everything else that stands against it.
///
/// `repair` is known from the path and may be left out.
#[utoipa::path(
    tag = "releases",
    params(
        ("id" = String, Path, description = "Id or tag of the repair."),
        ("preview" = Option<bool>, Query, description = "Only say what it would do; nothing is recorded."),
    ),
    request_body = RepairReleasing,
    responses(
        (status = 201, description = "Recorded.", body = ReleaseShown),
        (status = 200, description = "A preview, or it was recorded before.", body = ReleaseShown),
    )
)]
#[post("/repairs/{id}/release")]
pub async fn give_release(
    state: Shared,
    actor: Writer,
    id: web::Path<String>,
    query: Pairs,
    body: Body,
) -> Result<HttpResponse, Problem> {
    let actor = actor.0;
    let held = actor.fleet(&state).await?;
    let sight = sight_of(&actor, &held, state.now());
    let unknown = || not_found(Noun::Repairs, &id);
    let repair = RepairId(sight.find(Noun::Repairs, &id).ok_or_else(unknown)?);
    let is_preview = is_preview(&query)?;
    let mut body = body.read().await?;
    resolve(Noun::Releases, "", &mut body, &sight)?;
    fill_in(&mut body, "repair", &repair.to_string())?;
    let release = parse_fact::<RepairReleasing>("", body)?.of(repair);
    let at = release.occurred_at;
    let shown = move |fleet: &Fleet, now: Instant| -> Result<ReleaseShown, Problem> {
        // A clock a little ahead of ours may have dated it after now.
        let sheet = repair_sheet(fleet, repair, now.max(at));
        let sheet = sheet.ok_or_else(|| not_found(Noun::Repairs, &repair.to_string()))?;
        Ok(ReleaseShown { is_preview, sheet })
    };
    command(&state, &actor, "release_repair", is_preview, release, shown).await
}

/// Registers the routes.
pub fn routes(config: &mut Routes<'_, '_>) {
    config.service(give_release);
}
