//! Tables of the club, its members, designs, models, parts, components and programmes.

use preen_domain::{
    facts::Noun,
    formulas::interval::Rebasing,
    words::{
        ComponentState, Counter, Direction, Opener, Ownership, PartKind, Role, Subscription, Tracking,
        UnknownWord,
    },
};

use super::{
    super::grammar::{
        Kind::{Count, Day, Item, Link as Parent, Number, Tag, Text, Texts, Word, Words, YesNo, Zone},
        Link, Makes,
        Need::AtLeastOne,
        Range::{Any, NotNegative, Positive},
        Table, may, must,
    },
    ONE_TAG, facts, word,
};

fn rebasing(given: &str) -> Result<(), UnknownWord> {
    serde_json::from_value::<Rebasing>(given.into()).map(drop).map_err(|error| UnknownWord {
        given: given.to_owned(),
        allowed: error
            .to_string()
            .split_once("expected one of ")
            .map_or_else(String::new, |(_, words)| words.replace('`', "")),
    })
}

/// In an order in which parents stand before their parts.
pub const TABLES: &[Table] = &[
    Table {
        file: "club.csv",
        makes: Makes::Club,
        columns: &[must("short_name", Tag), must("title", Text), must("time_zone", Zone)],
        key: &["short_name"],
        links: &[],
        needs: &[],
    },
    facts(
        "members.csv",
        Noun::Members,
        &[
            must("tag", Tag),
            may("name", Text),
            must("roles", Words(word::<Role>)),
            may("subscription", Word(word::<Subscription>)),
        ],
        ONE_TAG,
    ),
    facts(
        "designs.csv",
        Noun::Designs,
        &[
            must("tag", Tag),
            must("datum", Text),
            may("class_use", Tag),
            must("span_m", Number(Positive)),
            must("wing_area_dm2", Number(Positive)),
            must("tail_area_dm2", Number(NotNegative)),
            must("mac_mm", Number(Positive)),
            must("mac_leading_edge_x_mm", Number(Any)),
            must("cg_min_mm", Number(Any)),
            must("cg_max_mm", Number(Any)),
            may("nose_weight_x_mm", Number(Any)),
        ],
        ONE_TAG,
    ),
    Table {
        file: "positions.csv",
        makes: Makes::Part("positions"),
        columns: &[
            must("design", Parent),
            must("path", Tag),
            may("inside", Tag),
            must("name", Text),
            must("kind", Text),
            must("accepts", Word(word::<PartKind>)),
            may("seat", Tag),
            must("is_required", YesNo),
            must("x_mm", Number(Any)),
            must("y_mm", Number(Any)),
            must("z_mm", Number(Any)),
            must("own_span_mm", Number(NotNegative)),
            may("own_length_mm", Number(NotNegative)),
        ],
        key: &["design", "inside", "path"],
        links: &[Link { file: "designs.csv", columns: &["design"] }],
        needs: &[],
    },
    Table {
        file: "joints.csv",
        makes: Makes::Group("joint"),
        columns: &[
            must("design", Parent),
            may("inside", Parent),
            must("path", Parent),
            must("engagement_mm", Number(Positive)),
            must("panel_mm", Number(Positive)),
        ],
        key: &["design", "inside", "path"],
        links: &[Link { file: "positions.csv", columns: &["design", "inside", "path"] }],
        needs: &[],
    },
    Table {
        file: "stations.csv",
        makes: Makes::Part("stations"),
        columns: &[
            must("design", Parent),
            must("y_mm", Number(NotNegative)),
            must("leading_edge_x_mm", Number(Any)),
            must("chord_mm", Number(Positive)),
            must("dihedral_deg", Number(Any)),
        ],
        key: &["design", "y_mm"],
        links: &[Link { file: "designs.csv", columns: &["design"] }],
        needs: &[],
    },
    Table {
        file: "ballast_cells.csv",
        makes: Makes::Part("ballast_cells"),
        columns: &[
            must("design", Parent),
            must("cell", Tag),
            must("x_mm", Number(Any)),
            must("y_mm", Number(Any)),
            must("capacity", Count(1)),
        ],
        key: &["design", "cell"],
        links: &[Link { file: "designs.csv", columns: &["design"] }],
        needs: &[],
    },
    facts(
        "parts.csv",
        Noun::Parts,
        &[
            must("tag", Tag),
            must("kind", Word(word::<PartKind>)),
            may("maker", Text),
            must("tracking", Word(word::<Tracking>)),
            must("nominal_mass_g", Number(NotNegative)),
            may("rated_capacity_mah", Number(Positive)),
            may("note", Text),
        ],
        ONE_TAG,
    ),
    facts(
        "models.csv",
        Noun::Models,
        &[
            must("tag", Tag),
            must("design", Item(Noun::Designs)),
            may("owner", Item(Noun::Members)),
            must("ownership", Word(word::<Ownership>)),
            must("first_flight_on", Day),
            may("note", Text),
        ],
        ONE_TAG,
    ),
    facts(
        "programmes.csv",
        Noun::Programmes,
        &[
            must("tag", Tag),
            must("title", Text),
            may("design", Item(Noun::Designs)),
            may("model", Item(Noun::Models)),
        ],
        ONE_TAG,
    ),
    Table {
        file: "programme_groups.csv",
        makes: Makes::Part("groups"),
        columns: &[
            must("programme", Parent),
            must("code", Tag),
            must("name", Text),
            may("counter", Word(word::<Counter>)),
            may("every_count", Count(1)),
            may("every_days", Count(1)),
            may("every_months", Count(1)),
            may("tolerance_count", Count(0)),
            may("tolerance_days", Count(0)),
            may("rebasing", Word(rebasing)),
            may("opened_by", Word(word::<Opener>)),
            may("applies_to", Word(word::<PartKind>)),
            may("place_and_time", Text),
        ],
        key: &["programme", "code"],
        links: &[Link { file: "programmes.csv", columns: &["programme"] }],
        needs: &[],
    },
    Table {
        file: "programme_items.csv",
        makes: Makes::Part("items"),
        columns: &[
            must("programme", Parent),
            must("group", Tag),
            must("code", Tag),
            must("text", Text),
            must("pass", Text),
            must("if_failed", Text),
        ],
        key: &["programme", "code"],
        links: &[
            Link { file: "programmes.csv", columns: &["programme"] },
            Link { file: "programme_groups.csv", columns: &["programme", "group"] },
        ],
        needs: &[],
    },
    Table {
        file: "programme_limits.csv",
        makes: Makes::Part("limits"),
        columns: &[
            must("programme", Parent),
            must("item", Parent),
            must("quantity", Tag),
            may("position_kinds", Texts),
            must("unit", Text),
            must("direction", Word(word::<Direction>)),
            may("watch", Number(Any)),
            may("restrict", Number(Any)),
            may("ground", Number(Any)),
        ],
        key: &["programme", "item", "quantity", "position_kinds", "direction"],
        links: &[Link { file: "programme_items.csv", columns: &["programme", "item"] }],
        needs: &[AtLeastOne(&["watch", "restrict", "ground"])],
    },
    facts(
        "components.csv",
        Noun::Components,
        &[
            must("tag", Tag),
            must("part", Item(Noun::Parts)),
            may("batch", Tag),
            may("seat", Tag),
            may("design", Item(Noun::Designs)),
            must("mass_g", Number(NotNegative)),
            may("acquired_on", Day),
            must("state", Word(word::<ComponentState>)),
            may("location", Text),
            may("note", Text),
        ],
        ONE_TAG,
    ),
];
