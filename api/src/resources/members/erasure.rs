//! Taking a member's personal data out of the record, the trail included, without breaking it.
//!
//! Names live in the members' rows and in the trail's payloads of those rows alone. The newest version is
//! replaced by one without a name; the name is wiped from all earlier versions, and their payloads and salts
//! are deleted. The chain hashes salted digests, so it holds, and every answer stays as it was.

use actix_web::{HttpResponse, post};
use diesel::prelude::*;
use preen_domain::facts::{Fact, Member, Noun, Recorded};
use preen_domain::rules::may::{Act, Asker, may};
use uuid::Uuid;

use super::store::members;
use crate::access::actor::Writer;
use crate::audit;
use crate::db::conn::Db;
use crate::db::door::{DoorError, Kept};
use crate::problem::Problem;
use crate::resources::entry::{find_seen, not_found};
use crate::resources::rows::Rows;
use crate::routes::Routes;
use crate::state::Shared;

/// Erases a member's personal data: the name goes, tag and roles stay, and the trail still holds.
#[utoipa::path(
    tag = "members",
    params(("id" = String, Path, description = "Id or tag of the member.")),
    responses((status = 200, description = "The member without personal data.", body = Recorded<Member>))
)]
#[post("/members/{id}/erasure")]
pub async fn erase_member(
    state: Shared,
    actor: Writer,
    id: actix_web::web::Path<String>,
) -> Result<HttpResponse, Problem> {
    let actor = actor.0;
    let member = find_seen::<Member>(&state, &actor, &id).await?;
    let name = id.into_inner();
    let erased = state
        .door
        .write(&actor.club, actor.member, move |change| {
            let club = change.club().id.clone();
            let asker = Asker { member: change.by(), has_history: false };
            let current =
                Member::find(change.conn(), &club, member)?.ok_or_else(|| not_found(Noun::Members, &name))?;
            let bare = Member { name: None, ..current.fact.clone() };
            may(change.fleet(), asker, Act::Revise(&Fact::Member(bare.clone())), change.now())
                .map_err(Problem::NotAllowed)?;
            if wiped(change.conn(), &club, member)? && current.fact.name.is_none() {
                return Ok(Kept::Unchanged(current));
            }
            wipe(change.conn(), &club, member)?;
            let revision = change.revision();
            Member::supersede(change.conn(), &club, member, revision)?;
            let recorded = change.record(audit::ERASURE, Fact::Member(bare.clone()))?;
            Ok::<_, Problem>(Kept::Recorded(recorded.with(bare)))
        })
        .await?;
    Ok(HttpResponse::Ok().json(erased))
}

/// Whether no version of the member carries a name.
fn wiped(conn: &mut Db, club: &str, member: Uuid) -> Result<bool, DoorError> {
    let named: i64 = members::table
        .filter(members::club_id.eq(club))
        .filter(members::id.eq(member.to_string()))
        .filter(members::name.is_not_null())
        .count()
        .get_result(conn)?;
    Ok(named == 0)
}

fn wipe(conn: &mut Db, club: &str, member: Uuid) -> Result<(), DoorError> {
    let of_member =
        members::table.filter(members::club_id.eq(club)).filter(members::id.eq(member.to_string()));
    diesel::update(of_member).set(members::name.eq(None::<String>)).execute(conn)?;
    audit::erase(conn, club, Noun::Members.as_str(), member)
}

/// Registers the route.
pub fn routes(config: &mut Routes<'_, '_>) {
    config.service(erase_member);
}
