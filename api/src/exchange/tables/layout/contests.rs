//! Tables of contests: classes of the club's own, contests and entries.

use preen_domain::{
    facts::Noun,
    formulas::planform::AreaDefinition,
    words::{ClassQuantity, EntryState, PermissionKind},
};

use super::{
    super::grammar::{
        Kind::{Count, Day, Instant, Item, Items, Link as Parent, Number, Tag, Text, Word, Words},
        Link, Makes,
        Need::AtLeastOne,
        Range::{NotNegative, Positive},
        Table, may, must,
    },
    ONE_TAG, facts, word,
};

/// In an order in which parents stand before their parts.
pub const TABLES: &[Table] = &[
    facts(
        "classes.csv",
        Noun::Classes,
        &[
            must("tag", Tag),
            must("title", Text),
            must("edition", Text),
            must("source", Text),
            may("in_force_on", Day),
            must("area", Word(word::<AreaDefinition>)),
            may("measuring_tolerance_pct", Number(NotNegative)),
            may("confirmed_by", Item(Noun::Members)),
            may("confirmed_on", Day),
            may("note", Text),
        ],
        ONE_TAG,
    ),
    Table {
        file: "class_limits.csv",
        makes: Makes::Part("limits"),
        columns: &[
            must("class", Parent),
            must("quantity", Word(word::<ClassQuantity>)),
            may("min", Number(NotNegative)),
            may("max", Number(NotNegative)),
            may("source", Text),
        ],
        key: &["class", "quantity"],
        links: &[Link { file: "classes.csv", columns: &["class"] }],
        needs: &[AtLeastOne(&["min", "max"])],
    },
    facts(
        "contests.csv",
        Noun::Contests,
        &[
            must("tag", Tag),
            must("title", Text),
            may("place", Text),
            must("class", Tag),
            must("check_in_at", Instant),
            must("first_on", Day),
            must("last_on", Day),
            may("rounds_min", Count(0)),
            must("prelim_rounds_max", Count(0)),
            may("flyoff_rounds_max", Count(0)),
            may("flights_per_round", Count(1)),
            may("training_flights", Count(0)),
            may("permissions", Words(word::<PermissionKind>)),
            may("note", Text),
        ],
        ONE_TAG,
    ),
    facts(
        "entries.csv",
        Noun::Entries,
        &[
            must("contest", Item(Noun::Contests)),
            must("pilot", Item(Noun::Members)),
            must("model", Item(Noun::Models)),
            may("reserves", Items(Noun::Models)),
            may("parts", Items(Noun::Components)),
            must("state", Word(word::<EntryState>)),
            may("marks", Text),
            may("mark_height_mm", Number(Positive)),
            may("note", Text),
        ],
        &["contest", "pilot"],
    ),
];
