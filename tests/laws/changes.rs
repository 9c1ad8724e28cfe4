//! "What changed since I last looked", on random histories: an answer that reads differently by what is known now than
//! by what was known at a revision is named, and one that reads the same is not.

use std::collections::{BTreeMap, BTreeSet};

use preen_domain::{
    answers::{
        ChangedAnswer, Changes, ModelVerdict, Moment, WhereQuestion, balance, changes, due_of_model, may_fly,
        model_usage, whereabouts,
    },
    facts::{Fact, Noun, Recorded},
    fleet::Fleet,
};
use proptest::prelude::*;
use serde_json::json;

use crate::history::{History, arrive, seeds};

/// Every answer about one thing, word by word, by its kind and what it is about.
fn readings(fleet: &Fleet, moment: Moment) -> BTreeMap<(ChangedAnswer, String), String> {
    let mut all = BTreeMap::new();
    for (id, file) in fleet.models() {
        let Some(model) = &file.model else { continue };
        let tag = model.fact.tag.to_string();
        for item in due_of_model(fleet, id, moment) {
            all.insert((ChangedAnswer::Due, format!("{tag} {}", item.group)), json!(item).to_string());
        }
        let usage = model_usage(fleet, id, moment.as_of);
        all.insert((ChangedAnswer::Usage, tag.clone()), json!(usage).to_string());
        if let Some(now) = balance(fleet, id, moment.as_of) {
            let places = [now.x_mm, now.y_mm, now.z_mm].map(|mm| format!("{mm:.2}"));
            all.insert((ChangedAnswer::Balance, tag), format!("{:.1} {places:?}", now.mass_g));
        }
    }
    for row in whereabouts(fleet, &WhereQuestion::default(), moment).components {
        all.insert((ChangedAnswer::Where, row.component.clone()), json!(row).to_string());
    }
    all
}

/// A verdict word by word, without the check that comes next.
fn word(verdict: &ModelVerdict) -> String {
    let mut json = json!(verdict);
    json.as_object_mut().unwrap().remove("next_due");
    json.to_string()
}

fn board(fleet: &Fleet, moment: Moment) -> BTreeMap<String, String> {
    let models = may_fly(fleet, moment).models;
    models.iter().map(|verdict| (verdict.model.clone(), word(verdict))).collect()
}

/// What differs between two states of knowledge.
fn differing<K: Ord + Clone>(before: &BTreeMap<K, String>, after: &BTreeMap<K, String>) -> BTreeSet<K> {
    let keys: BTreeSet<&K> = before.keys().chain(after.keys()).collect();
    keys.into_iter().filter(|key| before.get(key) != after.get(key)).cloned().collect()
}

/// Whether each tag of a model means one model: the door sees to that, the histories do not.
fn has_clear_tags(fleet: &Fleet) -> bool {
    let tags: Vec<_> = fleet.models().map(|(id, _)| fleet.model_tag(id)).collect();
    tags.iter().collect::<BTreeSet<_>>().len() == tags.len()
}

/// What the facts after a revision changed, asked about the end of the history.
fn since(history: &History, revision: i64) -> (Fleet, Changes, Moment) {
    let moment = Moment::today(&history.fleet, history.cursor);
    let (older, newer): (Vec<_>, Vec<_>) =
        history.facts.iter().cloned().partition(|recorded: &Recorded<Fact>| recorded.revision <= revision);
    let before = arrive(&older);
    let said = changes(&before, &history.fleet, revision, &newer, &older, moment);
    (before, said, moment)
}

/// Nouns of facts that may change an answer about a thing that they do not name.
const WIDE: [Noun; 9] = [
    Noun::Members,
    Noun::Designs,
    Noun::Parts,
    Noun::Models,
    Noun::Programmes,
    Noun::Campaigns,
    Noun::CampaignClosures,
    Noun::Limits,
    Noun::Corrections,
];

proptest! {
    #![proptest_config(ProptestConfig { cases: 48, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn what_reads_differently_is_named_and_nothing_else(seeds in seeds(), back in 0_i64..60) {
        let history = History::of(&seeds);
        let revision = i64::try_from(history.facts.len()).unwrap() - back;
        let (before, said, moment) = since(&history, revision);
        prop_assume!(has_clear_tags(&before) && has_clear_tags(&history.fleet));

        let named: BTreeSet<String> = said.models.iter().map(|change| change.model.clone()).collect();
        prop_assert_eq!(named, differing(&board(&before, moment), &board(&history.fleet, moment)));

        let named: BTreeSet<_> = said
            .answers
            .iter()
            .filter(|change| change.answer != ChangedAnswer::Readings)
            .map(|change| (change.answer, change.subject.clone()))
            .collect();
        prop_assert_eq!(named, differing(&readings(&before, moment), &readings(&history.fleet, moment)));

        let told: Vec<i64> = said.facts.iter().map(|by| by.revision).collect();
        let recorded = history.facts.iter().map(|recorded| recorded.revision).filter(|at| *at > revision);
        prop_assert_eq!(told, recorded.collect::<Vec<_>>(), "each fact since is told once, in order");
    }

    #[test]
    fn a_changed_place_or_use_names_the_facts_that_did_it(seeds in seeds(), back in 1_i64..60) {
        let history = History::of(&seeds);
        let revision = i64::try_from(history.facts.len()).unwrap() - back;
        let (before, said, _) = since(&history, revision);
        prop_assume!(has_clear_tags(&before) && has_clear_tags(&history.fleet));
        let is_wide = said.facts.iter().any(|by| WIDE.contains(&by.noun));
        for change in &said.answers {
            let is_of_one = [ChangedAnswer::Usage, ChangedAnswer::Where].contains(&change.answer);
            prop_assert!(
                !is_of_one || is_wide || !change.by_revisions.is_empty(),
                "nothing did {:?}: {:?}", change, said.facts
            );
            prop_assert!(change.by_revisions.iter().all(|at| *at > revision));
        }
    }

    #[test]
    fn nothing_recorded_changes_nothing(seeds in seeds()) {
        let history = History::of(&seeds);
        let (_, said, _) = since(&history, i64::try_from(history.facts.len()).unwrap());
        prop_assert!(said.models.is_empty() && said.answers.is_empty() && said.facts.is_empty());
    }
}
