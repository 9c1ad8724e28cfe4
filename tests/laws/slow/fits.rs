//! Parts that sit with others than those they were fitted to.

use preen_domain::{
    facts::{Fact, Noun},
    ids::{ComponentId, ModelId},
    words::Severity,
};

use super::{Asked, Book, each, places::carrier, verdict::Reason};

pub fn reasons(book: &Book, model: ModelId, asked: Asked) -> Vec<Reason> {
    let since = |part: ComponentId| {
        carrier(book, part, asked.as_of).filter(|(of, _)| *of == model).map(|(_, carried)| carried.since)
    };
    let mut reasons = Vec::new();
    for recorded in book.of_noun(Noun::MatchedSets) {
        let Fact::MatchedSet(set) = &recorded.fact else { continue };
        let is_outdated = book.of_noun(Noun::MatchedSets).any(|other| {
            other.revision > recorded.revision
                && matches!(&other.fact, Fact::MatchedSet(newer) if newer.id == set.id)
        });
        let is_here = since(set.component).is_some();
        if is_outdated || !is_here || set.mates.iter().all(|mate| since(*mate).is_some()) {
            continue;
        }
        let is_accepted = each!(book, Pairing).any(|pairing| {
            let at = pairing.occurred_at;
            pairing.component == set.component
                && at <= asked.as_of
                && since(set.component).is_some_and(|from| from <= at)
                && pairing.mates.iter().all(|mate| since(*mate).is_some_and(|from| from <= at))
        });
        let tag = book.component(set.component).tag.as_str();
        reasons.push(if is_accepted {
            Reason::new("pairing_accepted", Severity::Watch, tag)
        } else {
            Reason::new("pairing_not_accepted", Severity::Ground, tag)
        });
    }
    reasons
}
