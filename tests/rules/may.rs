//! Who may do what, as one table of acts and roles, each on a model of one's own and on another's.

use preen_domain::{
    facts::{Fact, FactShape, Model},
    fleet::Fleet,
    ids::{MemberId, ModelId},
    rules::may::{Act, Asker, may, may_read_names, may_see_model},
    words::Role,
};
use preen_tests::demo_fleet::{NOW, add, at, demo, model};
use serde_json::{Value, json};
use uuid::Uuid;

use crate::said::{fact, fresh};

/// A member for each role, who holds that role alone and owns a model.
pub fn club() -> Fleet {
    let mut fleet = demo();
    for (number, role) in (1_u32..).zip(Role::ALL) {
        let member = json!({ "id": fresh(100 + number), "tag": format!("T{number}"), "roles": [role] });
        let member = fact(&fleet, "members", member);
        add(&mut fleet, member);
        let own = Model {
            id: ModelId(fresh(200 + number).parse().unwrap()),
            tag: format!("OWN-{number}").parse().unwrap(),
            owner: Some(member_of(*role)),
            ..fleet.model_data(model(&fleet, "SG-01")).unwrap().clone()
        };
        add(&mut fleet, own);
    }
    fleet
}

fn number_of(role: Role) -> u32 {
    let place = Role::ALL.iter().position(|known| *known == role).unwrap();
    u32::try_from(place).unwrap() + 1
}

pub fn member_of(role: Role) -> MemberId {
    MemberId(fresh(100 + number_of(role)).parse().unwrap())
}

/// A fact of a kind about a model.
fn about(fleet: &Fleet, noun: &str, model: ModelId, more: Value) -> Fact {
    let mut body = json!({ "id": fresh(1), "occurred_at": NOW });
    let model = json!(model.to_string());
    for (key, value) in more.as_object().unwrap() {
        body[key] = if value == "MODEL" { model.clone() } else { value.clone() };
        if let Some(inner) = body[key].as_object_mut().and_then(|object| object.get_mut("model")) {
            *inner = model.clone();
        }
    }
    fact(fleet, noun, body)
}

/// Acts about a model, each with a fact of its kind.
fn acts() -> Vec<(&'static str, &'static str, Value)> {
    let check =
        |group: &str| json!({ "model": "MODEL", "group": group, "result": "pass", "is_summary": true });
    let repair = |kind: &str| json!({ "model": "MODEL", "kind": kind, "text": "work" });
    vec![
        (
            "flight",
            "flights",
            json!({ "model": "MODEL", "pilot": "#members:AV", "airtime_min": 1.0, "landing": "soft",
                    "is_post_flight_logged": true }),
        ),
        ("rigging", "riggings", json!({ "model": "MODEL", "cycles": 1 })),
        (
            "defect",
            "defects",
            json!({ "model": "MODEL", "subject": { "model": "MODEL" }, "severity": "watch", "text": "a dent" }),
        ),
        ("after-flight check", "inspections", check("PF")),
        ("before-flight check", "inspections", check("DF")),
        ("rigging check", "inspections", check("RG")),
        ("check N25", "inspections", check("N25")),
        ("pack check PK20", "inspections", check("PK20")),
        (
            "reading",
            "measurements",
            json!({ "subject": { "model": "MODEL" }, "quantity": "mass", "values": [1.0], "unit": "g" }),
        ),
        ("weighing", "weighings", json!({ "model": "MODEL", "mass_g": 1200.0, "x_mm": 95.0, "u_x_mm": 0.4 })),
        (
            "fit a part",
            "installations",
            json!({ "component": "#components:SV08-C004", "inside": { "model": "MODEL" }, "position": "W.C" }),
        ),
        ("repair R5", "repairs", repair("R5")),
        ("repair R10", "repairs", repair("R10")),
        ("repair R11", "repairs", repair("R11")),
        (
            "repair R5 on a part of another's",
            "repairs",
            json!({ "model": "MODEL", "components": ["#components:PK-SG-02"], "kind": "R5", "text": "work" }),
        ),
        ("lay-up", "events", json!({ "model": "MODEL", "kind": "laid_up" })),
    ]
}

/// The roles that may, in the order of the list.
pub fn who(fleet: &Fleet, act: &str, allowed: impl Fn(Role) -> bool) -> String {
    let roles: Vec<&str> =
        Role::ALL.iter().filter(|role| allowed(**role)).map(|role| role.as_str()).collect();
    assert!(fleet.members().count() > Role::ALL.len());
    format!("{act}: {}\n", roles.join(" "))
}

pub fn may_record(fleet: &Fleet, role: Role, fact: &Fact) -> bool {
    let asker = Asker { member: member_of(role), has_history: false };
    may(fleet, asker, Act::Record(fact), at(NOW)).is_ok()
}

const ABOUT_A_MODEL: &str = "\
flight, own: helper pilot builder stores team_manager inspector safety_officer keeper
flight, another's: helper pilot builder stores team_manager inspector safety_officer keeper
rigging, own: helper pilot builder stores team_manager inspector safety_officer keeper
rigging, another's: helper pilot builder stores team_manager inspector safety_officer keeper
defect, own: helper pilot builder stores team_manager inspector safety_officer keeper
defect, another's: helper pilot builder stores team_manager inspector safety_officer keeper
after-flight check, own: helper pilot builder stores team_manager inspector safety_officer keeper
after-flight check, another's: helper pilot builder stores team_manager inspector safety_officer keeper
before-flight check, own: helper pilot builder stores team_manager inspector safety_officer keeper
before-flight check, another's: helper pilot builder stores team_manager inspector safety_officer keeper
rigging check, own: pilot builder inspector safety_officer
rigging check, another's: builder inspector safety_officer
check N25, own: pilot builder inspector safety_officer
check N25, another's: builder inspector safety_officer
pack check PK20, own: pilot builder stores inspector safety_officer
pack check PK20, another's: builder stores inspector safety_officer
reading, own: pilot builder inspector safety_officer
reading, another's: builder inspector safety_officer
weighing, own: pilot builder inspector safety_officer
weighing, another's: builder inspector safety_officer
fit a part, own: pilot builder inspector
fit a part, another's: builder inspector
repair R5, own: pilot builder inspector
repair R5, another's: builder inspector
repair R10, own: builder inspector
repair R10, another's: builder inspector
repair R11, own: builder inspector
repair R11, another's: builder inspector
repair R5 on a part of another's, own: builder inspector
repair R5 on a part of another's, another's: builder inspector
lay-up, own: pilot inspector safety_officer keeper
lay-up, another's: inspector safety_officer keeper
";

#[test]
fn acts_about_a_model() {
    let fleet = club();
    let others = model(&fleet, "SG-01");
    let mut table = String::new();
    for (name, noun, more) in acts() {
        table += &who(&fleet, &format!("{name}, own"), |role| {
            let own = ModelId(fresh(200 + number_of(role)).parse().unwrap());
            may_record(&fleet, role, &about(&fleet, noun, own, more.clone()))
        });
        table += &who(&fleet, &format!("{name}, another's"), |role| {
            may_record(&fleet, role, &about(&fleet, noun, others, more.clone()))
        });
    }
    assert_eq!(table, ABOUT_A_MODEL);
}

const ABOUT_THE_CLUB: &str = "\
member: keeper
design: builder inspector keeper
part: builder inspector keeper
programme: builder inspector keeper
component: pilot builder stores inspector keeper
campaign: inspector safety_officer
loan: stores
into quarantine: pilot builder stores inspector
out of quarantine: inspector
release of a boom (R10): inspector
release of a servo swap (R5): pilot builder inspector safety_officer
tokens of others: keeper
tokens of one's own: visitor helper pilot builder stores team_manager inspector safety_officer keeper
feed and copy: pilot builder stores team_manager inspector safety_officer keeper
the whole fleet: helper pilot builder stores team_manager inspector safety_officer keeper
names of others: pilot builder stores team_manager inspector safety_officer keeper
see a model not lent: helper pilot builder stores team_manager inspector safety_officer keeper
";

#[test]
fn acts_about_the_club() {
    let fleet = club();
    let copy = |fact: Option<Fact>| fact.unwrap();
    let design = copy(fleet.designs().next().map(|(_, design)| design.fact.clone().into()));
    let part = copy(fleet.parts().next().map(|(_, part)| part.fact.clone().into()));
    let programme = copy(fleet.programmes().next().map(|(_, programme)| programme.fact.clone().into()));
    let campaign = copy(fleet.campaigns().next().map(|(_, campaign)| campaign.fact.clone().into()));
    let member = copy(fleet.members().next().map(|(_, member)| member.fact.clone().into()));
    let loan = fact(
        &fleet,
        "loans",
        json!({ "id": fresh(1), "item": { "component": "#components:SV08-C004" }, "lent_to": "#members:AV",
                "occurred_at": NOW, "from_on": "2026-05-21", "due_back_on": "2026-05-31" }),
    );
    let condition = |state: &str, tag: &str| {
        let component = format!("#components:{tag}");
        let body = json!({ "id": fresh(1), "component": component, "occurred_at": NOW, "state": state,
                           "reason": "looked at" });
        fact(&fleet, "conditions", body)
    };
    let release = |tag: &str| {
        fact(
            &fleet,
            "releases",
            json!({ "id": fresh(1), "repair": format!("#repairs:{tag}"), "occurred_at": NOW }),
        )
    };
    let component = fleet.components().next().and_then(|(_, file)| file.component.clone()).unwrap().fact;
    let acts: Vec<(&str, Fact)> = vec![
        ("member", member),
        ("design", design),
        ("part", part),
        ("programme", programme),
        ("component", component.into()),
        ("campaign", campaign),
        ("loan", loan),
        ("into quarantine", condition("held", "SV08-C004")),
        ("out of quarantine", condition("serviceable", "SV08-B016")),
        ("release of a boom (R10)", release("RE-014")),
        ("release of a servo swap (R5)", release("RE-003")),
    ];
    let mut table = String::new();
    for (name, fact) in &acts {
        table += &who(&fleet, name, |role| may_record(&fleet, role, fact));
    }
    let ask = |role: Role, act: Act<'_>| {
        may(&fleet, Asker { member: member_of(role), has_history: false }, act, at(NOW)).is_ok()
    };
    table += &who(&fleet, "tokens of others", |role| ask(role, Act::ManageTokens(MemberId(Uuid::nil()))));
    table += &who(&fleet, "tokens of one's own", |role| ask(role, Act::ManageTokens(member_of(role))));
    table += &who(&fleet, "feed and copy", |role| ask(role, Act::ReadFeed));
    table += &who(&fleet, "the whole fleet", |role| ask(role, Act::ReadFleet));
    table += &who(&fleet, "names of others", |role| may_read_names(&fleet, member_of(role)));
    table += &who(&fleet, "see a model not lent", |role| {
        may_see_model(&fleet, member_of(role), model(&fleet, "SG-01"), at(NOW))
    });
    assert_eq!(table, ABOUT_THE_CLUB);
}

#[test]
fn only_a_keeper_with_the_scope_enters_history_of_every_kind() {
    let fleet = club();
    let fact = about(
        &fleet,
        "repairs",
        model(&fleet, "SG-01"),
        json!({ "model": "MODEL", "kind": "R11", "text": "w" }),
    );
    assert_eq!(fact.noun(), preen_domain::facts::Repair::NOUN);
    for role in Role::ALL {
        let asker = Asker { member: member_of(*role), has_history: true };
        let allowed = may(&fleet, asker, Act::Record(&fact), at(NOW)).is_ok();
        assert_eq!(allowed, matches!(role, Role::Keeper | Role::Builder | Role::Inspector), "{role}");
    }
}

#[test]
fn somebody_who_is_no_member_may_nothing() {
    let fleet = club();
    let asker = Asker { member: MemberId(Uuid::nil()), has_history: true };
    assert!(may(&fleet, asker, Act::ReadFleet, at(NOW)).is_err());
    let fact = fleet.parts().next().map(|(_, part)| Fact::from(part.fact.clone())).unwrap();
    assert!(may(&fleet, asker, Act::Record(&fact), at(NOW)).is_err());
}
