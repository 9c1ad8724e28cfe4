//! A visitor before every path: what they may not read leads nowhere for whatever is done with it, as if it were not
//! there; what they may read never does.

use preen_domain::words::Role;
use preen_tests::Reply;
use preen_tests::world::new_id;
use serde_json::json;

use super::club::Club;
use super::operations;
use super::requests::{CASES, request};

/// Asks for everything by its name.
pub fn check(club: &Club) {
    let visitor = club.caller(Role::Visitor);
    let (mut seen, mut unseen) = (0, 0);
    for (method, path) in operations().into_iter().filter(|(_, path)| path.contains("{id}")) {
        let noun = path.split('/').next().unwrap_or_default();
        // The table itself looks at what a member entered; tokens are never read one by one.
        for case in CASES.into_iter().filter(|case| *case != "entered" && noun != "tokens") {
            let Some(request) = request(club, method, path, Role::Visitor, case) else { continue };
            let name = request.target.split(['/', '?']).nth(1).unwrap();
            let is_seen = match visitor.get(&format!("/{noun}/{name}")).status {
                200 => true,
                404 => false,
                other => panic!("{noun}/{name}: {other}"),
            };
            let reply = request.send(visitor);
            if is_seen {
                assert_ne!(reply.status, 404, "{request:?}: {}", reply.text);
                seen += 1;
                continue;
            }
            reply.problem(404, "not_found");
            let is_id = name.len() == 36;
            let absent = if is_id { new_id() } else { "NOWHERE".to_owned() };
            let nowhere = request.named(name, &absent).send(visitor);
            let nameless = |reply: &Reply, name: &str| reply.text.replace(name, "NAME");
            assert_eq!(nameless(&reply, name), nameless(&nowhere, &absent), "{request:?}");
            // Whatever is sent with it is not looked at.
            if request.body.is_some() {
                request.with_body(json!({ "nonsense": true })).send(visitor).problem(404, "not_found");
            }
            unseen += 1;
        }
    }
    assert!(seen > 40 && unseen > 100, "{seen} {unseen}");
}
