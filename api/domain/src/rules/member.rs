//! Members: what stands against one. Who may admit one is the access rule's question.

use super::Verdict;
use crate::facts::Member;

pub(super) fn check(member: &Member, verdict: &mut Verdict) {
    if member.roles.is_empty() {
        verdict.value("no_role", "/roles", "name at least one role; `visitor` is the least");
    }
    let mut roles = member.roles.clone();
    roles.sort();
    roles.dedup();
    if roles.len() != member.roles.len() {
        verdict.value("role_twice", "/roles", "name each role once");
    }
    let mut kinds: Vec<_> = member.permissions.iter().map(|permission| permission.kind).collect();
    kinds.sort();
    kinds.dedup();
    if kinds.len() != member.permissions.len() {
        verdict.value(
            "permission_twice",
            "/permissions",
            "name each kind of permission once, with its last day",
        );
    }
}
