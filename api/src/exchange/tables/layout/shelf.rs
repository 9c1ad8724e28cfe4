//! Tables of what a club keeps beside its models: matched sets, limits of its own, lots and counted slugs.

use preen_domain::{
    facts::Noun,
    words::{Direction, SlugUse},
};

use super::{
    super::grammar::{
        Kind::{Count, Day, Item, Items, Number, Tag, Text, Texts, Word},
        Makes,
        Need::AtLeastOne,
        Range::{Any, NotNegative, Positive},
        Table, may, must,
    },
    ONE_TAG, facts, word,
};

/// None of them has parts.
pub const TABLES: &[Table] = &[
    facts(
        "matched_sets.csv",
        Noun::MatchedSets,
        &[
            must("tag", Tag),
            must("component", Item(Noun::Components)),
            must("mates", Items(Noun::Components)),
            may("marks", Text),
            may("orientation", Text),
        ],
        ONE_TAG,
    ),
    Table {
        file: "limits.csv",
        makes: Makes::Fact(Noun::Limits),
        columns: &[
            must("tag", Tag),
            must("quantity", Tag).at("limit/quantity"),
            may("position_kinds", Texts).at("limit/position_kinds"),
            must("unit", Text).at("limit/unit"),
            must("direction", Word(word::<Direction>)).at("limit/direction"),
            may("watch", Number(Any)).at("limit/watch"),
            may("restrict", Number(Any)).at("limit/restrict"),
            may("ground", Number(Any)).at("limit/ground"),
            must("reason", Text),
        ],
        key: ONE_TAG,
        links: &[],
        needs: &[AtLeastOne(&["watch", "restrict", "ground"])],
    },
    facts(
        "lots.csv",
        Noun::Lots,
        &[
            must("tag", Tag),
            must("item", Text),
            may("opened_on", Day),
            may("use_by_on", Day),
            must("quantity", Number(NotNegative)),
            must("unit", Text),
        ],
        ONE_TAG,
    ),
    facts(
        "slugs.csv",
        Noun::Slugs,
        &[
            must("tag", Tag),
            must("mass_g", Number(Positive)),
            must("count", Count(0)),
            must("purpose", Word(word::<SlugUse>)),
            may("design", Item(Noun::Designs)),
        ],
        ONE_TAG,
    ),
];
