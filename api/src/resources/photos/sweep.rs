//! Throws pictures away that no photo names a day after they came: sent and never used, or left behind when a photo was
//! refused. What a photo of any revision names stays, also when that photo was corrected or never was.
//!
//! A picture that is being thrown away is first said to be so on the list, where the door and whoever sends the same
//! again look; its files go next, its line on the list last. If the service ends meanwhile, the next round goes on.

use std::time::Duration;

use preen_domain::digest::Digest;

use super::pictures::{doom, has_stale, strike};
use crate::db::door::DoorError;
use crate::photos::store::Which;
use crate::problem::Problem;
use crate::resources::setup::store::list_clubs;
use crate::state::State;
use crate::watch::cut::cut;

/// How long a picture waits for a photo that names it, s.
const WAITS_S: i64 = 24 * 3600;
/// Time between two rounds.
const PAUSE: Duration = Duration::from_secs(24 * 3600);

/// Goes through all clubs once; how many pictures went.
pub async fn sweep(state: &State) -> Result<usize, Problem> {
    let before = state.now().plus_seconds(-WAITS_S);
    let mut gone = 0_usize;
    for club in state.door.read(|_, conn| list_clubs(conn)).await? {
        let asked = club.clone();
        if !state.door.read(move |_, conn| has_stale(conn, &asked, before)).await? {
            continue;
        }
        let asked = club.clone();
        let doomed: Vec<Digest> = state
            .door
            .write_beside(move |conn| doom(conn, &asked, before))
            .await
            .map_err(|error: DoorError| error)?;
        for digest in &doomed {
            for which in [Which::Thumbnail, Which::Whole] {
                state.photos.store.delete(&club, digest, which).await?;
            }
        }
        gone = gone.saturating_add(doomed.len());
        let struck: Result<(), DoorError> =
            state.door.write_beside(move |conn| strike(conn, &club, &doomed)).await;
        struck?;
    }
    Ok(gone)
}

/// Goes through them at the start and once a day, until the service ends.
pub async fn keep_sweeping(state: crate::state::Shared) {
    let mut rounds = actix_web::rt::time::interval(PAUSE);
    loop {
        // The first comes at once.
        rounds.tick().await;
        match sweep(&state).await {
            Ok(0) => {}
            Ok(gone) => tracing::info!(gone, "pictures that no photo names were thrown away"),
            // The next round goes on with them.
            Err(problem) => {
                tracing::warn!(problem = cut(&problem.to_string()), "pictures that no photo names were left");
            }
        }
    }
}
