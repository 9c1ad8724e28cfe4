//! What of the record goes out about one model, or about one member, and how the first is told without naming anybody.

use std::collections::{BTreeMap, BTreeSet};
use std::io::{Seek, Write};

use preen_domain::answers::component_usage;
use preen_domain::facts::{Fact, Noun, Recorded};
use preen_domain::fleet::Fleet;
use preen_domain::ids::{ComponentId, MemberId, ModelId};
use preen_domain::time::Instant;
use serde_json::{Map, Value, json};

use super::pack::PackError;
use crate::access::passwords;
use crate::db::conn::Db;
use crate::db::door::DoorError;
use crate::exchange::archive::cells;
use crate::exchange::archive::write::ArchiveWriter;
use crate::resources::nouns::fields_of;
use crate::resources::tokens;
use crate::told::replaced_alone;

/// What is told of a model: nothing of loans, contests, questions, stock and people, and no photo, which may show some.
const OF_MODELS: &[Noun] = &[
    Noun::Designs,
    Noun::Parts,
    Noun::Models,
    Noun::Programmes,
    Noun::Components,
    Noun::Conditions,
    Noun::Installations,
    Noun::Removals,
    Noun::Flights,
    Noun::Riggings,
    Noun::Inspections,
    Noun::Measurements,
    Noun::Weighings,
    Noun::Defects,
    Noun::Deferrals,
    Noun::Closures,
    Noun::Repairs,
    Noun::RepairSteps,
    Noun::Releases,
    Noun::Campaigns,
    Noun::CampaignWorks,
    Noun::MatchedSets,
    Noun::Pairings,
    Noun::Charges,
    Noun::Events,
    Noun::Corrections,
];

/// Keys of texts that people write.
const PROSE: [&str; 4] = ["text", "note", "reason", "marks"];

/// One fact that goes out.
#[derive(Clone, Debug)]
pub struct Line {
    noun: Noun,
    json: Value,
}

fn line(recorded: &Recorded<Fact>) -> Result<Line, DoorError> {
    let fact = serde_json::to_value(&recorded.fact).map_err(|error| DoorError::Broken(error.to_string()))?;
    let json = json!({
        "revision": recorded.revision,
        "noun": recorded.fact.noun(),
        "recorded_at": recorded.recorded_at,
        "recorded_by": recorded.recorded_by,
        "fact": fact,
    });
    Ok(Line { noun: recorded.fact.noun(), json })
}

/// Whether one of these ids stands somewhere in a value.
fn mentions(value: &Value, ids: &BTreeSet<String>) -> bool {
    match value {
        Value::String(text) => ids.contains(text),
        Value::Array(list) => list.iter().any(|one| mentions(one, ids)),
        Value::Object(fields) => fields.values().any(|one| mentions(one, ids)),
        Value::Null | Value::Bool(_) | Value::Number(_) => false,
    }
}

/// The facts of a model and the parts in it, oldest first, and those parts.
pub fn of_model(
    fleet: &Fleet,
    facts: &[Recorded<Fact>],
    model: ModelId,
    now: Instant,
) -> Result<(Vec<Line>, Vec<ComponentId>), DoorError> {
    let parts: Vec<ComponentId> = fleet.fitted(model, now).into_iter().map(|fitted| fitted.id).collect();
    let mut own: BTreeSet<String> = parts.iter().map(ToString::to_string).collect();
    own.insert(model.to_string());
    let mut general: BTreeSet<String> =
        parts.iter().filter_map(|part| fleet.part_of(*part)).map(|part| part.id.to_string()).collect();
    general.extend(fleet.design_of(model).map(|design| design.id.to_string()));
    let mut lines = Vec::new();
    for recorded in facts.iter().filter(|recorded| OF_MODELS.contains(&recorded.fact.noun())) {
        let (noun, id) = (recorded.fact.noun(), recorded.fact.id().to_string());
        let line = line(recorded)?;
        let fact = line.json.get("fact").unwrap_or(&Value::Null);
        let is_wanted = match noun {
            Noun::Models | Noun::Components => own.contains(&id),
            Noun::Designs | Noun::Parts => general.contains(&id),
            Noun::Programmes | Noun::Campaigns => mentions(fact, &own) || mentions(fact, &general),
            _ => mentions(fact, &own),
        };
        if is_wanted {
            // What is about a defect, a repair or a correction of it goes along.
            if !matches!(noun, Noun::Designs | Noun::Parts | Noun::Programmes | Noun::Campaigns) {
                own.insert(id);
            }
            lines.push(line);
        }
    }
    Ok((lines, parts))
}

/// The facts that name a member or were entered by them, oldest first.
pub fn of_member(facts: &[Recorded<Fact>], member: MemberId) -> Result<Vec<Line>, DoorError> {
    let id = BTreeSet::from([member.to_string()]);
    let mut lines = Vec::new();
    for recorded in facts {
        let line = line(recorded)?;
        if mentions(&line.json, &id) {
            lines.push(line);
        }
    }
    Ok(lines)
}

/// How a member gets in, without any secret.
pub fn access_of(conn: &mut Db, club: &str, member: MemberId, now: Instant) -> Result<Value, DoorError> {
    let member = member.to_string();
    let tokens: Vec<Value> = tokens::store::list(conn, club, &member)?
        .into_iter()
        .map(|token| {
            json!({
                "label": token.label,
                "scopes": token.scopes,
                "created_at": Instant::from_micros(token.created_at),
                "expires_at": token.expires_at.map(Instant::from_micros),
                "revoked_at": token.revoked_at.map(Instant::from_micros),
            })
        })
        .collect();
    let password = passwords::find(conn, club, &member, now)?;
    Ok(json!({
        "tokens": tokens,
        "password_set_at": password.map(|row| Instant::from_micros(row.changed_at)),
    }))
}

/// Stands for members: each is a number, the same throughout a file.
pub struct Mask {
    ids: BTreeMap<String, String>,
    words: Vec<(String, String)>,
}

impl Mask {
    /// Over all members of a club. `earlier` are names that stood in earlier versions.
    pub fn of(fleet: &Fleet, facts: &[Recorded<Fact>]) -> Self {
        let mut ids = BTreeMap::new();
        for (id, _) in fleet.members() {
            ids.insert(id.to_string(), String::new());
        }
        for (number, pseudonym) in (1_usize..).zip(ids.values_mut()) {
            *pseudonym = format!("member-{number}");
        }
        let mut words = Vec::new();
        for recorded in facts {
            let Fact::Member(member) = &recorded.fact else { continue };
            let Some(pseudonym) = ids.get(&member.id.to_string()) else { continue };
            words.push((member.tag.to_string(), pseudonym.clone()));
            if let Some(name) = &member.name {
                words.push((name.to_string(), pseudonym.clone()));
                let parts = name.as_str().split_whitespace().filter(|part| part.chars().count() >= 3);
                words.extend(parts.map(|part| (part.to_owned(), pseudonym.clone())));
            }
        }
        words.sort_by_key(|(word, _)| std::cmp::Reverse(word.len()));
        words.dedup();
        Self { ids, words }
    }

    fn text(&self, key: &str, text: &mut String) {
        if let Some(pseudonym) = self.ids.get(text.as_str()) {
            text.clone_from(pseudonym);
            return;
        }
        if !PROSE.contains(&key) && !text.contains(' ') {
            return;
        }
        for (word, pseudonym) in &self.words {
            if text.contains(word.as_str()) {
                *text = replaced_alone(text, word, pseudonym);
            }
        }
    }

    fn over(&self, key: &str, value: &mut Value) {
        match value {
            Value::String(text) => self.text(key, text),
            Value::Array(list) => list.iter_mut().for_each(|one| self.over(key, one)),
            Value::Object(fields) => fields.iter_mut().for_each(|(key, one)| self.over(key, one)),
            Value::Null | Value::Bool(_) | Value::Number(_) => {}
        }
    }

    /// Puts it over what goes out.
    pub fn cover(&self, lines: &mut [Line]) {
        lines.iter_mut().for_each(|line| self.over("", &mut line.json));
    }
}

/// Use of each part, span by span, one a line.
pub fn write_usage<W: Write + Seek>(
    archive: &mut ArchiveWriter<W>,
    fleet: &Fleet,
    parts: &[ComponentId],
    now: Instant,
) -> Result<(), PackError> {
    archive.begin("usage.ndjson")?;
    for part in parts {
        archive.line(&component_usage(fleet, *part, now))?;
    }
    Ok(())
}

/// Writes facts as lines, and as one table for each noun that occurs.
pub fn write_lines<W: Write + Seek>(
    archive: &mut ArchiveWriter<W>,
    lines: &[Line],
    tag_of: &dyn Fn(&str) -> Option<String>,
) -> Result<(), PackError> {
    archive.begin_facts()?;
    for line in lines {
        archive.line(&line.json)?;
    }
    for noun in Noun::ALL {
        let of_noun: Vec<&Line> = lines.iter().filter(|line| line.noun == *noun).collect();
        if of_noun.is_empty() {
            continue;
        }
        let columns = archive.begin_table(*noun, &fields_of(*noun))?;
        for line in of_noun {
            archive.row(cells::row(&columns, &flat(&line.json), tag_of))?;
        }
    }
    Ok(())
}

/// The fact with its stamp, side by side.
fn flat(json: &Value) -> Map<String, Value> {
    let mut fields = json.get("fact").and_then(Value::as_object).cloned().unwrap_or_default();
    for stamp in ["revision", "recorded_at", "recorded_by"] {
        if let Some(value) = json.get(stamp) {
            fields.insert(stamp.to_owned(), value.clone());
        }
    }
    fields
}
