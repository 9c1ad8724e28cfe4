//! What is sent for each operation, by whom and about whose things, and how the answer is read.

use preen_domain::words::Role;
use preen_tests::Reply;
use preen_tests::http::Caller;
use preen_tests::world::{CLUB, new_id, part};
use serde_json::{Value, json};

use super::bodies::{body, open_campaign, picture};
use super::club::Club;

/// Whose thing an operation is about: the member's own, another's, lent to the member; what the member entered
/// themselves within the last days; a limit that becomes milder; or nobody's (`any`).
pub const CASES: [&str; 6] = ["own", "another's", "lent", "entered", "milder", "any"];

/// Questions that need something said.
const QUERIES: &[(&str, &str)] = &[
    ("changes", "since=0"),
    ("life", "part=SV08"),
    ("models/{id}/check-sheet.pdf", "group=N25"),
    ("models/{id}/scrutineering.pdf", "class=F5J"),
    ("models/{id}/class-check", "class=F5J"),
    ("spares", "models=SG-01&flights=5"),
    ("exchange", "part=SV08&with=SV08"),
    ("models/{id}/ballast", "target_mass_g=1250&mass_tolerance_g=1250&cells=62:5"),
];

/// A field that a new version changes, by noun; the limit's comes further down.
const CHANGED: &[(&str, &str)] = &[
    ("members", "/name"),
    ("designs", "/datum"),
    ("models", "/note"),
    ("parts", "/note"),
    ("programmes", "/title"),
    ("lots", "/item"),
    ("slugs", "/count"),
    ("classes", "/title"),
    ("contests", "/title"),
    ("entries", "/note"),
    ("matched-sets", "/marks"),
];

const PASSWORD: &str = "three old oars";

/// What is sent.
#[derive(Clone, Debug)]
pub struct Request {
    /// Method in small letters.
    pub method: String,
    /// Path without its beginning, with the query.
    pub target: String,
    /// JSON, if any.
    pub body: Option<Value>,
    /// A file instead of it.
    file: Option<Vec<u8>>,
    /// Further headers.
    pub headers: Vec<(&'static str, String)>,
    /// By cookie instead of token.
    is_by_session: bool,
}

/// The request of a member for an operation, well-formed, so that what is answered is who may; nothing if the
/// operation has no such case.
pub fn request(club: &Club, method: &str, path: &str, role: Role, case: &str) -> Option<Request> {
    let mut steps = path.split('/');
    let noun = steps.next().unwrap_or_default();
    let (has_object, command) = (steps.next() == Some("{id}"), steps.next());
    let mut request = Request {
        method: method.to_owned(),
        target: path.to_owned(),
        body: None,
        file: None,
        headers: Vec::new(),
        is_by_session: false,
    };
    let mut about = |name: String| request.target = path.replace("{id}", &name);
    match (method, noun, command) {
        ("post", "compute", _) if case == "any" => request.body = Some(json!({})),
        ("post", "facts", None) => {
            let fact = body(club, "weighings", role, case)?;
            request.body = Some(json!({ "facts": [{ "noun": "weighings", "fact": fact }] }));
        }
        ("get", "tokens", None) => match case {
            "own" => {}
            "another's" => request.target.push_str("?member=AV"),
            _ => return None,
        },
        ("delete", "tokens", None) => about(club.world.add("tokens", body(club, "tokens", role, case)?)),
        ("delete", "session", None) if case == "any" => sign_in(club, role, &mut request),
        ("get", "worksheets", _) if case == "any" => request.target = path.replace("{kind}", "R3"),
        ("post", "photos", None) if path == "photos/files" => {
            request.file = (case == "any").then(picture);
            request.file.as_ref()?;
        }
        ("get", _, _) if has_object => about(club.object(noun, role, case)?),
        ("get", _, _) if case == "any" => {}
        ("post", _, None) if !has_object => request.body = Some(body(club, noun, role, case)?),
        ("post", _, Some("correction")) => {
            about(match case {
                "entered" => club.entered(noun, role)?,
                // A fresh one each time: nothing is corrected twice. The keeper entered it.
                _ => club.world.add(noun, body(club, noun, role, case)?),
            });
            request.body = Some(json!({ "id": new_id(), "reason": "a slip", "is_void": true }));
        }
        ("put", _, None) if has_object => {
            let name = club.object(noun, role, if case == "milder" { "any" } else { case })?;
            request.body = Some(new_version(club, noun, &name, case)?);
            request.headers.push(("if-match", "*".to_owned()));
            about(name);
        }
        ("put", "members", Some("password")) => {
            about(club.object(noun, role, case)?);
            request.body = Some(json!({ "new_password": PASSWORD }));
        }
        // Who sent what became the question.
        ("post", "questions", Some("settlement")) if matches!(case, "own" | "another's") => {
            about(club.question(if case == "own" { role.as_str() } else { "AV" }));
            request.body =
                Some(json!({ "id": new_id(), "occurred_at": "2026-05-20T10:00:00Z", "text": "settled" }));
        }
        ("post", "members", Some("erasure")) => about(club.object(noun, role, case)?),
        ("post", "defects", Some("deferral")) if is_of_a_model(case) => {
            let mut deferral = body(club, "deferrals", role, case)?;
            about(deferral["defect"].as_str()?.to_owned());
            deferral.as_object_mut()?.remove("defect");
            request.body = Some(deferral);
        }
        ("post", "repairs", Some("release")) if is_of_a_model(case) => {
            let mut release = body(club, "releases", role, case)?;
            about(release["repair"].as_str()?.to_owned());
            release.as_object_mut()?.remove("repair");
            request.body = Some(release);
        }
        ("post", "models", Some("swap")) if is_of_a_model(case) => {
            let model = club.fresh_model(role, case);
            about(model);
            request.body = Some(json!({
                "occurred_at": "2026-05-20T10:00:00Z",
                "exchanges": [{
                    "path": "W.C", "on": club.loose("PANEL", role, case), "installation": new_id(),
                    "removal": new_id(), "reason": "upgrade"
                }]
            }));
        }
        ("post", "components", Some("fit")) if is_of_a_model(case) => {
            let model = club.fresh_model(role, case);
            about(club.loose("FUSE", role, case));
            request.body = Some(json!({
                "id": new_id(), "inside": { "model": model }, "position": "F",
                "occurred_at": "2026-05-20T10:00:00Z"
            }));
        }
        ("post", "components", Some("remove")) if is_of_a_model(case) => {
            about(format!("P-{}", club.fresh_model(role, case)));
            request.body = Some(json!({
                "id": new_id(), "occurred_at": "2026-05-20T10:00:00Z", "reason": "upgrade"
            }));
        }
        ("post", "campaigns", Some("close")) if case == "any" => {
            let part = club.world.add("parts", part(&format!("T{}", club.next()), "servo"));
            about(open_campaign(club, &part));
            request.body = Some(json!({ "id": new_id(), "occurred_at": "2026-05-20T10:00:00Z" }));
        }
        _ => return None,
    }
    if let Some((_, query)) = QUERIES.iter().find(|(known, _)| *known == path) {
        request.target = format!("{}?{query}", request.target);
    }
    // Who has a sheet already is told so, where they may have it: nothing has to be printed to know that.
    if path.ends_with(".pdf") {
        request.headers.push(("if-none-match", "*".to_owned()));
    }
    Some(request)
}

fn is_of_a_model(case: &str) -> bool {
    matches!(case, "own" | "another's" | "lent")
}

/// The item with one field changed, to something it never was.
fn new_version(club: &Club, noun: &str, name: &str, case: &str) -> Option<Value> {
    let mut item = club.stored(noun, name);
    if noun == "limits" {
        let watch = item["limit"]["watch"].as_f64()?;
        item["limit"]["watch"] = json!(if case == "milder" { watch + 1.0 } else { watch - 0.5 });
        return matches!(case, "any" | "milder").then_some(item);
    }
    let (_, pointer) = CHANGED.iter().find(|(known, _)| *known == noun)?;
    let key = pointer.trim_start_matches('/');
    item[key] = if item[key].is_number() { json!(club.next()) } else { json!(format!("v{}", club.next())) };
    (case != "milder").then_some(item)
}

fn sign_in(club: &Club, role: Role, request: &mut Request) {
    let caller = club.caller(role);
    caller.put(&format!("/members/{role}/password"), None, &json!({ "new_password": PASSWORD })).expect(200);
    let body = json!({ "club": CLUB, "member": role, "password": PASSWORD });
    let reply = caller.with_token("").post("/session", &body).expect(201);
    let cookie = reply.header("set-cookie").unwrap().split(';').next().unwrap().to_owned();
    let csrf = reply.json()["csrf_token"].as_str().unwrap().to_owned();
    request.headers = vec![("cookie", cookie), ("x-csrf-token", csrf), ("origin", club.world.url())];
    request.is_by_session = true;
}

impl Request {
    /// Sends it.
    pub fn send(&self, caller: &Caller) -> Reply {
        let caller = if self.is_by_session { &caller.with_token("") } else { caller };
        let mut request = caller.request(&self.method.to_uppercase(), &format!("/{}", self.target));
        for (name, value) in &self.headers {
            request = request.header(*name, value);
        }
        Reply::of(match (&self.body, &self.file) {
            (Some(body), _) => request.json(body),
            (None, Some(file)) => request.body(file.clone()),
            (None, None) => request,
        })
    }

    /// The same about something else.
    pub fn named(&self, name: &str, other: &str) -> Self {
        Self { target: self.target.replace(name, other), ..self.clone() }
    }

    /// The same with another body.
    pub fn with_body(&self, body: Value) -> Self {
        Self { body: Some(body), ..self.clone() }
    }

    /// What the answer says: `yes`, `no`, or `-` where there is nothing for the asker. Nothing else is expected.
    pub fn read(&self, reply: &Reply) -> Option<&'static str> {
        if self.target == "facts" && self.method == "post" {
            let result = reply.clone().expect(200).json()["results"][0].clone();
            return match result["status"].as_str()? {
                "recorded" => Some("yes"),
                "refused" if result["problem"]["code"] == "not_allowed" => Some("no"),
                "question" if is_unknown_reference(&result["problem"]) => Some("-"),
                _ => None,
            };
        }
        let code = if reply.status < 400 { Value::Null } else { reply.json()["code"].clone() };
        match reply.status {
            200 | 201 | 204 => Some("yes"),
            304 if self.target.contains(".pdf") => Some("yes"),
            409 if code == "refused_by_rule" => Some("yes"),
            403 if code == "not_allowed" => Some("no"),
            404 => Some("-"),
            422 if is_unknown_reference(&reply.json()) => Some("-"),
            // A calculator knows nothing of the club: that it complains about the question says that it was asked.
            422 if self.target.starts_with("compute/") => Some("yes"),
            _ => None,
        }
    }
}

/// Whether a problem says that what the request names is not there, and nothing else.
pub fn is_unknown_reference(problem: &Value) -> bool {
    let errors = problem["errors"].as_array();
    errors.is_some_and(|errors| {
        !errors.is_empty() && errors.iter().all(|error| error["code"] == "unknown_reference")
    })
}
