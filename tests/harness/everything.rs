//! Everything that a service answers, path by path: every `GET` of the description, for some items of each noun, at
//! moments and at revisions.

use std::collections::BTreeMap;

use crate::description::description;
use crate::http::Caller;

/// What is asked of what has items in its path.
const ITEMS: usize = 2;

/// What speaks of the service and of who asks, not of the record.
const BESIDE: [&str; 6] =
    ["export", "tokens", "session", "openapi.json", "members/{id}/export", "models/{id}/export"];

/// Sheets that stand for all: they show the same answers, and each takes long to set in type.
const PAPER: [&str; 2] = ["models/{id}/record.pdf", "labels.pdf"];

/// Questions that need something said.
const QUERIES: [(&str, &str); 7] = [
    // Codes on labels lead to the service.
    ("labels.pdf", "address=https://club.example"),
    ("changes", "since=1"),
    ("life", "part=SV08"),
    ("models/{id}/ballast", "target_mass_g=1250&mass_tolerance_g=1250&cells=62:5"),
    ("spares", "models=SG-01&flights=5"),
    ("exchange", "part=SV08&with=SV08"),
    ("facts", "since=0"),
];

/// Status and body of every answer, by path. Sheets are printed for the first item alone, and now.
pub fn everything(caller: &Caller, as_ofs: &[&str], revisions: &[i64]) -> BTreeMap<String, (u16, Vec<u8>)> {
    let mut answers = BTreeMap::new();
    let paths = description()["paths"].as_object().unwrap();
    for (path, item) in paths {
        let Some(operation) = item.get("get") else { continue };
        let Some(path) = path.strip_prefix("/api/v1/").filter(|path| !BESIDE.contains(path)) else {
            continue;
        };
        let takes = |name: &str| {
            let parameters = operation["parameters"].as_array();
            parameters.is_some_and(|list| list.iter().any(|one| one["name"] == name && one["in"] == "query"))
        };
        let is_paper = path.ends_with(".pdf");
        if is_paper && !PAPER.contains(&path) {
            continue;
        }
        let query = QUERIES.iter().find(|(of, _)| *of == path).map_or("", |(_, query)| query);
        for path in about(caller, path, if is_paper { 1 } else { ITEMS }) {
            let mut ask = |more: String| {
                let query: Vec<&str> = [query, &more].into_iter().filter(|part| !part.is_empty()).collect();
                let asked = format!("/{path}?{}", query.join("&"));
                let reply = caller.get(&asked);
                answers.insert(asked, (reply.status, reply.bytes));
            };
            ask(String::new());
            if takes("as_of") && !is_paper {
                as_ofs.iter().for_each(|as_of| ask(format!("as_of={as_of}")));
            }
            if takes("at_revision") && !is_paper {
                revisions.iter().for_each(|revision| ask(format!("at_revision={revision}")));
            }
        }
    }
    answers
}

/// A path with items in the place of its parameter.
fn about(caller: &Caller, path: &str, most: usize) -> Vec<String> {
    let Some((noun, rest)) = path.split_once("/{") else { return vec![path.to_owned()] };
    let rest = rest.split_once('}').unwrap().1;
    if noun == "worksheets" {
        return vec![format!("{noun}/R3{rest}")];
    }
    let list = caller.get(&format!("/{noun}?limit=200")).expect(200).json();
    let items = list["items"].as_array().unwrap();
    // The first, the last and what lies between.
    let step = (items.len() / most).max(1);
    let some = items.iter().step_by(step).take(most);
    some.map(|item| format!("{noun}/{}{rest}", item["id"].as_str().unwrap())).collect()
}

/// Where two services answer differently.
pub fn unlike(
    one: &BTreeMap<String, (u16, Vec<u8>)>,
    other: &BTreeMap<String, (u16, Vec<u8>)>,
) -> Vec<String> {
    let paths = one.keys().chain(other.keys());
    let mut list: Vec<String> = paths
        .filter(|path| one.get(*path) != other.get(*path))
        .map(|path| {
            let text = |of: &BTreeMap<String, (u16, Vec<u8>)>| {
                of.get(path).map(|(status, body)| {
                    format!(
                        "{status} {}",
                        String::from_utf8_lossy(body).chars().take(400).collect::<String>()
                    )
                })
            };
            format!("{path}\n  {:?}\n  {:?}", text(one), text(other))
        })
        .collect();
    list.dedup();
    list
}
