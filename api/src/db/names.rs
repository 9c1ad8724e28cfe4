//! Ids and tags of one club's items: which item a name means, and whether a name is still free.
//!
//! Items that others point at are held in memory beside the Fleet ([`Names`]). The table `names` holds those and
//! every other tag, and makes the database itself refuse a tag that two items of a noun would share.

use std::collections::BTreeMap;

use diesel::prelude::*;
use preen_domain::facts::{Correction, Fact, Noun};
use preen_domain::text::Tag;
use uuid::Uuid;

use super::conn::Db;
use super::door::DoorError;
use super::stored::of_club_as_they_lie;
use super::written::{self, NewRow};

pub use preen_domain::fleet::Names;

diesel::table! {
    /// One row per item that others may point at or that people call by a tag.
    names (club_id, id) {
        club_id -> Text,
        id -> Text,
        noun -> Text,
        tag -> Nullable<Text>,
    }
}

/// The item of a noun that a tag means, among all of them.
pub fn find_by_tag(conn: &mut Db, club: &str, noun: Noun, tag: &str) -> Result<Option<Uuid>, DoorError> {
    if tag.parse::<Tag>().is_err() {
        // What cannot be a tag is nobody's, and not every database can be asked for any text.
        return Ok(None);
    }
    names::table
        .filter(names::club_id.eq(club))
        .filter(names::noun.eq(noun.as_str()))
        .filter(names::tag.eq(tag))
        .select(names::id)
        .get_result::<String>(conn)
        .optional()?
        .map(|id| parse_id(&id))
        .transpose()
}

/// The noun that already uses an id, as far as ids are kept here.
pub fn noun_of(conn: &mut Db, club: &str, id: Uuid) -> Result<Option<Noun>, DoorError> {
    names::table
        .filter(names::club_id.eq(club))
        .filter(names::id.eq(id.to_string()))
        .select(names::noun)
        .get_result::<String>(conn)
        .optional()?
        .map(|noun| noun.parse().map_err(|error| DoorError::Broken(format!("{error}"))))
        .transpose()
}

/// Writes down the name of an item, new or changed.
pub fn keep(conn: &mut Db, club: &str, fact: &Fact) -> Result<(), DoorError> {
    if !is_kept(fact) {
        return Ok(());
    }
    let of_item = names::table.filter(names::club_id.eq(club)).filter(names::id.eq(fact.id().to_string()));
    if diesel::update(of_item).set(names::tag.eq(fact.tag().map(Tag::as_str))).execute(conn)? == 0 {
        written::insert(conn, &[row(club, fact)])?;
    }
    Ok(())
}

/// Whether a fact's name stands in the table.
pub fn is_kept(fact: &Fact) -> bool {
    fact.tag().is_some() || Names::holds(fact.noun())
}

/// The row of a name that is new.
pub fn row(club: &str, fact: &Fact) -> NewRow {
    let tag = fact.tag().map(|tag| tag.as_str().to_owned());
    NewRow {
        insert: "INSERT INTO names (club_id, id, noun, tag) VALUES ",
        values: vec![
            club.to_owned().into(),
            fact.id().to_string().into(),
            fact.noun().as_str().to_owned().into(),
            tag.into(),
        ],
    }
}

/// Noun and tag by id, as they lie in the table.
pub type Named = BTreeMap<String, (String, Option<String>)>;

/// The rows that must be there after these facts, oldest first.
pub fn expected<'a>(facts: impl Iterator<Item = &'a Fact>) -> Named {
    let mut rows = Named::new();
    for fact in facts {
        let corrected = match fact {
            Fact::Correction(Correction { noun, fact: Some(json), .. }) => {
                Fact::from_json(*noun, json.clone()).ok()
            }
            _ => None,
        };
        let fact = corrected.as_ref().unwrap_or(fact);
        let tag = fact.tag().map(|tag| tag.as_str().to_owned());
        if tag.is_some() || Names::holds(fact.noun()) {
            rows.insert(fact.id().to_string(), (fact.noun().to_string(), tag));
        }
    }
    rows
}

/// The rows that are there.
pub fn stored(conn: &mut Db, club: &str) -> Result<Named, DoorError> {
    let of_club = of_club_as_they_lie!(conn, names::table, names::club_id, club);
    let rows: Vec<(String, String, Option<String>)> =
        of_club.select((names::id, names::noun, names::tag)).load(conn)?;
    Ok(rows.into_iter().map(|(id, noun, tag)| (id, (noun, tag))).collect())
}

fn parse_id(text: &str) -> Result<Uuid, DoorError> {
    Uuid::parse_str(text).map_err(|error| DoorError::Broken(format!("names: {text}: {error}")))
}
