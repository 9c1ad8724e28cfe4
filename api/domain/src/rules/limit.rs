//! Limits of the club.

use super::{Verdict, programme::check_limit};
use crate::facts::ClubLimit;

pub(super) fn check(limit: &ClubLimit, verdict: &mut Verdict) {
    check_limit(&limit.limit, "/limit", verdict);
}
