//! The list of all nouns: what the door must know of their tables, and all their routes.

use preen_domain::facts::{
    Campaign, CampaignClosure, CampaignWork, Charge, ClassProfile, Closure, ClubLimit, Component, Condition,
    Contest, Correction, Defect, Deferral, Design, Entry, Event, Fact, FactShape, Flight, Inspection,
    Installation, Loan, LoanReturn, Lot, MatchedSet, Measurement, Member, Model, Noun, Pairing, Part, Photo,
    Programme, Question, Recorded, Release, Removal, Repair, RepairStep, Rigging, Settlement, Slug, Weighing,
};
use uuid::Uuid;

use super::entry::add_prepared;
use super::page::Page;
use super::rows::Rows;
use crate::db::conn::Db;
use crate::db::door::{Change, DoorError, Kept, Span, Tables, TakeEach};
use crate::db::names;
use crate::db::stored::{RowKey, Stored, scan_or_each};
use crate::db::written::NewRow;
use crate::problem::Problem;
use crate::routes::Routes;

macro_rules! nouns {
    ($($shape:ident: $folder:ident),+ $(,)?) => {
        fn load(conn: &mut Db, club: &str, span: Span) -> Result<Vec<Recorded<Fact>>, DoorError> {
            let mut facts: Vec<Recorded<Fact>> = Vec::new();
            each(conn, club, span, &mut |fact| facts.push(fact))?;
            facts.sort_by_key(|recorded| recorded.revision);
            Ok(facts)
        }

        fn each(conn: &mut Db, club: &str, span: Span, take: TakeEach<'_>) -> Result<(), DoorError> {
            $(
                <$shape as Rows>::each(conn, club, span, &mut |recorded| {
                    let Recorded { fact, recorded_at, recorded_by, revision } = recorded;
                    take(Recorded { fact: Fact::$shape(fact), recorded_at, recorded_by, revision });
                })?;
            )+
            Ok(())
        }

        fn row(club: &str, recorded: &Recorded<Fact>) -> Result<NewRow, DoorError> {
            match &recorded.fact {
                $(Fact::$shape(fact) => <$shape as Rows>::row(club, &recorded.with(fact.clone()), false),)+
            }
        }

        fn insert(conn: &mut Db, club: &str, recorded: &Recorded<Fact>) -> Result<(), DoorError> {
            insert_as(conn, club, recorded, false)
        }

        fn insert_corrected(conn: &mut Db, club: &str, recorded: &Recorded<Fact>) -> Result<(), DoorError> {
            insert_as(conn, club, recorded, true)
        }

        fn insert_as(
            conn: &mut Db,
            club: &str,
            recorded: &Recorded<Fact>,
            is_correction: bool,
        ) -> Result<(), DoorError> {
            names::keep(conn, club, &recorded.fact)?;
            match &recorded.fact {
                $(Fact::$shape(fact) => {
                    <$shape as Rows>::insert(conn, club, &recorded.with(fact.clone()), is_correction)
                })+
            }
        }

        fn replace(conn: &mut Db, club: &str, noun: Noun, id: Uuid, revision: i64) -> Result<(), DoorError> {
            match noun {
                $(<$shape as FactShape>::NOUN => <$shape as Rows>::supersede(conn, club, id, revision),)+
            }
        }

        /// The fields of a noun's facts, beside the id.
        pub fn fields_of(noun: Noun) -> Vec<&'static str> {
            match noun {
                $(<$shape as FactShape>::NOUN => {
                    <$shape as Rows>::COLUMNS.iter().map(|(name, _)| *name).collect()
                })+
            }
        }

        /// A stretch of what stands of a noun now, after the last of the stretch before.
        pub fn current(
            conn: &mut Db,
            club: &str,
            noun: Noun,
            after: Option<(i64, String)>,
        ) -> Result<Vec<Recorded<Fact>>, DoorError> {
            let page = Page::from_key(after);
            match noun {
                $(<$shape as FactShape>::NOUN => {
                    let rows = <$shape as Rows>::list(conn, club, &page)?;
                    Ok(rows.into_iter().map(|row| row.with(Fact::$shape(row.fact.clone()))).collect())
                })+
            }
        }

        fn stored(conn: &mut Db, club: &str, keys: &[RowKey]) -> Result<Stored, DoorError> {
            let mut stored = Stored::default();
            $(
                let keys_of = keys.iter().filter(|key| key.noun == <$shape as FactShape>::NOUN);
                let read = scan_or_each(
                    conn,
                    |conn| <$shape as Rows>::scan(conn, club),
                    |_| Ok(keys_of.cloned().collect()),
                    |conn, key: &RowKey, way| <$shape as Rows>::look(conn, club, &key.id, key.revision, way),
                )?;
                // A table that cannot be read as a whole has worse to tell.
                let odd = conn.read_in_savepoint(|conn| <$shape as Rows>::odd_cells(conn, club));
                stored.take(<$shape as FactShape>::NOUN, read, &odd.unwrap_or_default());
            )+
            Ok(stored)
        }

        /// Adds a fact of any noun inside the door, as [`add_prepared`] does; the revision at which it was recorded, now or
        /// before.
        pub fn add_any(
            change: &mut Change<'_>,
            act: &'static str,
            fact: Fact,
            payload: Option<&str>,
            has_history: bool,
        ) -> Result<Kept<i64>, Problem> {
            match fact {
                $(Fact::$shape(fact) => {
                    Ok(match add_prepared::<$shape>(change, act, fact, payload, has_history)? {
                        Kept::Recorded(entered) => Kept::Recorded(entered.stored.revision),
                        Kept::Unchanged(entered) => Kept::Unchanged(entered.stored.revision),
                    })
                })+
            }
        }

        /// The routes of all nouns.
        pub fn routes(config: &mut Routes<'_, '_>) {
            $(super::$folder::http::routes(config);)+
        }

        /// For each noun the query parameters its list knows, for the description of the interface.
        pub fn list_parameters() -> Vec<(&'static str, Vec<(&'static str, super::rows::Filter)>)> {
            vec![$((
                <$shape as FactShape>::NOUN.as_str(),
                super::page::described_parameters::<$shape>(),
            )),+]
        }
    };
}

nouns! {
    Member: members,
    Design: designs,
    Part: parts,
    Model: models,
    Programme: programmes,
    Component: components,
    Condition: conditions,
    Installation: installations,
    Removal: removals,
    Flight: flights,
    Rigging: riggings,
    Inspection: inspections,
    Measurement: measurements,
    Weighing: weighings,
    Defect: defects,
    Deferral: deferrals,
    Closure: closures,
    Repair: repairs,
    RepairStep: repair_steps,
    Release: releases,
    Photo: photos,
    Campaign: campaigns,
    CampaignWork: campaign_works,
    CampaignClosure: campaign_closures,
    Loan: loans,
    LoanReturn: loan_returns,
    ClubLimit: limits,
    Lot: lots,
    Slug: slugs,
    MatchedSet: matched_sets,
    Pairing: pairings,
    ClassProfile: classes,
    Contest: contests,
    Entry: entries,
    Charge: charges,
    Event: events,
    Question: questions,
    Settlement: settlements,
    Correction: corrections,
}

/// What the door must know of the nouns.
pub const TABLES: Tables = Tables { load, each, row, insert, insert_corrected, replace, stored };
