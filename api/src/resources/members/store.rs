//! The table of members.

use preen_domain::facts::Member;

fact_rows! {
    members: Member, moment: none, {
        tag: Text,
        name: MaybeText,
        roles: Json,
        subscription: MaybeText,
        permissions: Json,
    }
}
