//! The table of designs.

use preen_domain::facts::Design;

fact_rows! {
    designs: Design, moment: none, {
        tag: Text,
        datum: Text,
        class_use: MaybeText,
        span_m: Number,
        wing_area_dm2: Number,
        tail_area_dm2: Number,
        mac_mm: Number,
        mac_leading_edge_x_mm: Number,
        cg_min_mm: Number,
        cg_max_mm: Number,
        nose_weight_x_mm: MaybeNumber,
        positions: Json,
        stations: Json,
        ballast_cells: Json,
    }
}
