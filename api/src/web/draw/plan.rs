//! The model from above and from the side, from its design's own numbers, with each fitted part where it sits.
//!
//! From above the nose points up and right is right; from the side the nose points left. Both to one scale.

use preen_domain::facts::Design;

use super::scale::{Scale, tenth};
use crate::web::words::Word;

/// A part to be drawn, as who asks knows it.
#[derive(Debug, Clone)]
pub struct Spot {
    /// Tag of the component; empty where the seat is empty.
    pub tag: String,
    /// Path of the seat.
    pub path: String,
    /// Place behind the datum, right of the centreline, above the datum, mm.
    pub place_mm: (f64, f64, f64),
    /// The worst that is said about it.
    pub word: Option<Word>,
    /// Number by which the list beside the drawing names it, where something is said about it.
    pub number: Option<usize>,
}

/// A spot on a drawing.
#[derive(Debug, Clone)]
pub struct Mark {
    /// Across.
    pub x: f64,
    /// Down.
    pub y: f64,
    /// What is there.
    pub spot: Spot,
}

/// Both views.
#[derive(Debug, Clone)]
pub struct Plan {
    /// Height of the view from above; it is 1000 wide.
    pub top_height: f64,
    /// Height of the view from the side.
    pub side_height: f64,
    /// Outlines of the two half wings.
    pub wings: [String; 2],
    /// Outline of the fuselage from above.
    pub body_top: String,
    /// The same from the side.
    pub body_side: String,
    /// Range of the centre of gravity, from and to, from the side.
    pub range: (f64, f64),
    /// Place of the centre of gravity from above and from the side.
    pub cg: Option<((f64, f64), (f64, f64))>,
    /// Parts from above.
    pub top: Vec<Mark>,
    /// Parts from the side.
    pub side: Vec<Mark>,
    /// Whether the outline is the design's, or a plain stand-in for one that is not entered.
    pub has_stations: bool,
}

const WIDTH: f64 = 1000.0;
const EDGE: f64 = 26.0;
/// Half of the width of a fuselage that nobody has measured, mm: for the eye only.
const BODY_MM: f64 = 22.0;

/// Leading edge and chord at distances from the centreline, mm.
fn outline_mm(design: &Design) -> Vec<(f64, f64, f64)> {
    if design.stations.len() >= 2 {
        return design.stations.iter().map(|one| (one.y_mm, one.leading_edge_x_mm, one.chord_mm)).collect();
    }
    let chord = design.mac_mm;
    vec![
        (0.0, design.mac_leading_edge_x_mm, chord),
        (design.span_m * 500.0, design.mac_leading_edge_x_mm, chord),
    ]
}

fn points(list: impl Iterator<Item = (f64, f64)>) -> String {
    list.map(|(x, y)| format!("{x},{y}")).collect::<Vec<_>>().join(" ")
}

/// Draws a model of a design.
pub fn plan(design: &Design, spots: &[Spot], cg_mm: Option<(f64, f64, f64)>) -> Plan {
    let wing = outline_mm(design);
    let half_mm = wing.last().map_or(design.span_m * 500.0, |last| last.0);
    let places = || design.positions.iter().map(|one| (one.x_mm, one.z_mm));
    let edges = || wing.iter().flat_map(|(_, edge, chord)| [*edge, edge + chord]);
    let nose = places().map(|(x, _)| x).chain(edges()).fold(f64::INFINITY, f64::min) - 45.0;
    let tail = places().map(|(x, _)| x).chain(edges()).fold(f64::NEG_INFINITY, f64::max) + 45.0;
    let (low, high) =
        places().map(|(_, z)| z).fold((-40.0_f64, 60.0_f64), |(low, high), z| (low.min(z), high.max(z)));
    let scale = (WIDTH - 2.0 * EDGE) / (2.0 * half_mm).max(tail - nose).max(1.0);
    let middle = WIDTH / 2.0;
    let across = Scale::new((-1.0, 1.0), (middle - scale, middle + scale));
    let down = Scale::new((0.0, 1.0), (EDGE - nose * scale, EDGE - nose * scale + scale));
    let along_edge = middle - (tail - nose) * scale / 2.0;
    let along = Scale::new((nose, nose + 1.0), (along_edge, along_edge + scale));
    let up = Scale::new((0.0, 1.0), (EDGE + high * scale, EDGE + high * scale - scale));

    let half = |side: f64| {
        let leading = wing.iter().map(|(y, edge, _)| (across.at(side * y), down.at(*edge)));
        let trailing = wing.iter().rev().map(|(y, edge, chord)| (across.at(side * y), down.at(edge + chord)));
        points(leading.chain(trailing))
    };
    let body_top = [
        (0.0, nose),
        (1.0, nose + 60.0),
        (0.8, nose + 320.0),
        (0.25, tail),
        (-0.25, tail),
        (-0.8, nose + 320.0),
        (-1.0, nose + 60.0),
    ];
    let body_side = [
        (0.0, nose),
        (1.0, nose + 90.0),
        (0.9, nose + 320.0),
        (0.3, tail),
        (-0.3, tail),
        (-1.1, nose + 320.0),
        (-1.0, nose + 70.0),
    ];
    let mark = |spot: &Spot, x: f64, y: f64| Mark { x, y, spot: spot.clone() };
    Plan {
        top_height: tenth((tail - nose) * scale + 2.0 * EDGE),
        side_height: tenth((high - low) * scale + 2.0 * EDGE + 30.0),
        wings: [half(-1.0), half(1.0)],
        body_top: points(body_top.iter().map(|(side, x)| (across.at(side * BODY_MM), down.at(*x)))),
        body_side: points(body_side.iter().map(|(side, x)| (along.at(*x), up.at(side * BODY_MM - 12.0)))),
        range: (along.at(design.cg_min_mm), along.at(design.cg_max_mm)),
        cg: cg_mm.map(|(x, y, z)| ((across.at(y), down.at(x)), (along.at(x), up.at(z)))),
        top: spots.iter().map(|one| mark(one, across.at(one.place_mm.1), down.at(one.place_mm.0))).collect(),
        side: spots.iter().map(|one| mark(one, along.at(one.place_mm.0), up.at(one.place_mm.2))).collect(),
        has_stations: design.stations.len() >= 2,
    }
}
