//! Where things sit: nested spans resolved to models, and the tree of what a model carries at a moment.

use super::{ComponentFile, Fleet, Occupant, Span, Usage};
use crate::{
    facts::{Component, Design, Inside, Model, Part, Position},
    ids::{ComponentId, DesignId, ModelId, PartId},
    text::Tag,
    time::Instant,
};

/// Panels in panels in panels: deeper nesting than this is refused by the rules.
pub(crate) const MAX_DEPTH: usize = 6;

/// A component seen from the model it sat in, through every level of nesting.
#[derive(Debug, Clone, PartialEq)]
pub struct ModelSpan {
    /// The model.
    pub model: ModelId,
    /// Path from the model down, such as `W.C/FS.R`.
    pub path: String,
    /// From this moment on.
    pub from: Instant,
    /// Until before this moment; `None` while it lasts.
    pub to: Option<Instant>,
}

/// The same while it is looked up: its seats as they follow each other, no path.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Stretch<'a> {
    /// The model.
    pub model: ModelId,
    /// From this moment on.
    pub from: Instant,
    /// Until before this moment; `None` while it lasts.
    pub to: Option<Instant>,
    seats: Seats<'a>,
}

impl Stretch<'_> {
    /// Whether it sat there at a moment.
    pub(crate) fn holds_at(&self, at: Instant) -> bool {
        self.from <= at && self.to.is_none_or(|to| at < to)
    }
}

/// A seat, and the seats below it down to the component that is looked up.
#[derive(Debug, Clone, Copy)]
struct Seats<'a> {
    position: &'a Tag,
    below: Option<&'a Seats<'a>>,
}

impl Seats<'_> {
    fn path(&self) -> String {
        let mut path = self.position.to_string();
        let mut below = self.below;
        while let Some(seats) = below {
            path = join(&path, seats.position);
            below = seats.below;
        }
        path
    }
}

/// Where a component is at a moment.
#[derive(Debug, Clone, PartialEq)]
pub enum Place {
    /// In a model, under this path.
    InModel(ModelId, String),
    /// In a panel or fuselage that is in no model, under this path from it.
    InPanel(ComponentId, String),
    /// In nothing.
    Loose,
}

/// A component that a model carries at a moment.
#[derive(Debug, Clone, PartialEq)]
pub struct Fitted<'a> {
    /// Which one.
    pub id: ComponentId,
    /// Path from the model down.
    pub path: String,
    /// The design's position, if the design knows it.
    pub position: Option<&'a Position>,
    /// Since when it sits in its parent.
    pub occupant: &'a Occupant,
    /// The moment since which every level up to the model is in place.
    pub in_model_since: Instant,
    /// Whether the record merely begins with the level that came last in place.
    pub is_start_of_record: bool,
}

impl Fleet {
    /// Newest version of a model's own data.
    #[must_use]
    pub fn model_data(&self, id: ModelId) -> Option<&Model> {
        self.model(id)?.model.as_ref().map(|recorded| &recorded.fact)
    }

    /// A component's own data.
    #[must_use]
    pub fn component_data(&self, id: ComponentId) -> Option<&Component> {
        self.component(id)?.component.as_ref().map(|recorded| &recorded.fact)
    }

    /// The type of a component.
    #[must_use]
    pub fn part_of(&self, id: ComponentId) -> Option<&Part> {
        self.part(self.component_data(id)?.part).map(|recorded| &recorded.fact)
    }

    /// Tags of part types, in words.
    #[must_use]
    pub fn part_tags(&self, parts: &[PartId]) -> String {
        let tags: Vec<String> = parts
            .iter()
            .map(|id| self.part(*id).map_or_else(|| id.to_string(), |part| part.fact.tag.to_string()))
            .collect();
        tags.join(" or ")
    }

    /// The design of a model.
    #[must_use]
    pub fn design_of(&self, id: ModelId) -> Option<&Design> {
        self.design(self.model_data(id)?.design).map(|recorded| &recorded.fact)
    }

    /// Tag of a model, or its id where it has no data yet.
    #[must_use]
    pub fn model_tag(&self, id: ModelId) -> String {
        self.model_data(id).map_or_else(|| id.to_string(), |model| model.tag.to_string())
    }

    /// Tag of a component, or its id where it has no data yet.
    #[must_use]
    pub fn component_tag(&self, id: ComponentId) -> String {
        self.component_data(id).map_or_else(|| id.to_string(), |component| component.tag.to_string())
    }

    /// Tag of a member, or the id.
    #[must_use]
    pub fn member_tag(&self, id: crate::ids::MemberId) -> String {
        self.member(id).map_or_else(|| id.to_string(), |member| member.fact.tag.to_string())
    }

    /// The position of a holder by its path, as the design has it.
    #[must_use]
    pub fn position(&self, inside: Inside, path: &Tag) -> Option<&Position> {
        position_in(self.positions_of(inside), path)
    }

    /// The design of a holder, and the code of the seat in it that the holder fills; none for the model itself.
    fn positions_of(&self, inside: Inside) -> Option<Positions<'_>> {
        match inside {
            Inside::Model(model) => Some((&self.design(self.model_data(model)?.design)?.fact, None)),
            Inside::Component(component) => self.positions_of_part(self.component(component)?),
        }
    }

    fn positions_of_part<'a>(&'a self, holder: &'a ComponentFile) -> Option<Positions<'a>> {
        let holder = &holder.component.as_ref()?.fact;
        Some((&self.design(holder.design?)?.fact, Some(holder.seat.as_ref()?)))
    }

    /// The positions of a design inside a seat code, or of the model itself.
    pub fn positions(&self, design: DesignId, seat: Option<&Tag>) -> impl Iterator<Item = &Position> {
        let seat = seat.cloned();
        self.design(design)
            .into_iter()
            .flat_map(|design| design.fact.positions.iter())
            .filter(move |position| position.inside == seat)
    }

    /// Everything that sat in the positions of a holder, by moment.
    #[must_use]
    pub fn occupants(&self, inside: Inside) -> &[Occupant] {
        match inside {
            Inside::Model(model) => self.model(model).map_or(&[], |file| file.occupants.as_slice()),
            Inside::Component(component) => {
                self.component(component).map_or(&[], |file| file.occupants.as_slice())
            }
        }
    }

    /// What sits in a position at a moment.
    #[must_use]
    pub fn occupant_at(&self, inside: Inside, path: &Tag, at: Instant) -> Option<ComponentId> {
        self.occupants(inside)
            .iter()
            .find(|occupant| occupant.span.position == *path && occupant.span.holds_at(at))
            .map(|occupant| occupant.component)
    }

    /// Everything a model carries at a moment, parents before what sits inside them.
    #[must_use]
    pub fn fitted(&self, model: ModelId, at: Instant) -> Vec<Fitted<'_>> {
        let mut list = Vec::new();
        self.collect_fitted(
            Inside::Model(model),
            "",
            (Instant::from_micros(i64::MIN), true),
            at,
            MAX_DEPTH,
            &mut list,
        );
        list
    }

    /// Whether anything came on or off a model, at any depth, after one moment and up to another.
    #[must_use]
    pub fn has_moves(&self, model: ModelId, after: Instant, up_to: Instant) -> bool {
        let is_between = |at: Instant| after < at && at <= up_to;
        let carried = self.model(model).map_or(&[][..], |file| file.carried.as_slice());
        carried.iter().any(|part| is_between(part.from) || part.to.is_some_and(is_between))
    }

    /// Everything that sits inside a component at a moment, through every level; the path starts below it.
    #[must_use]
    pub fn contents(&self, component: ComponentId, at: Instant) -> Vec<Fitted<'_>> {
        let mut list = Vec::new();
        let inside = Inside::Component(component);
        self.collect_fitted(inside, "", (Instant::from_micros(i64::MIN), true), at, MAX_DEPTH, &mut list);
        list
    }

    fn collect_fitted<'a>(
        &'a self,
        inside: Inside,
        prefix: &str,
        above: (Instant, bool),
        at: Instant,
        depth: usize,
        list: &mut Vec<Fitted<'a>>,
    ) {
        if depth == 0 {
            return;
        }
        for (occupant, position) in self.seated(inside, at) {
            let path = join(prefix, &occupant.span.position);
            let own = (occupant.span.from, occupant.span.is_start_of_record);
            let came_last = if above.0 > own.0 { above } else { own };
            let (in_model_since, is_start_of_record) = came_last;
            list.push(Fitted {
                id: occupant.component,
                path: path.clone(),
                position,
                occupant,
                in_model_since,
                is_start_of_record,
            });
            let below = Inside::Component(occupant.component);
            self.collect_fitted(below, &path, came_last, at, depth - 1, list);
        }
    }

    /// What sits in the positions of a holder at a moment, each with the design's position.
    fn seated(&self, inside: Inside, at: Instant) -> impl Iterator<Item = (&Occupant, Option<&Position>)> {
        let occupants = self.occupants(inside);
        let positions = if occupants.is_empty() { None } else { self.positions_of(inside) };
        let now = occupants.iter().filter(move |occupant| occupant.span.holds_at(at));
        now.map(move |occupant| (occupant, position_in(positions, &occupant.span.position)))
    }

    /// Everything a model carries at a moment, as [`Fleet::fitted`] has it, without putting paths together.
    pub(crate) fn walk_fitted(
        &self,
        model: ModelId,
        at: Instant,
        mut visit: impl FnMut(&ComponentFile, Option<&Position>),
    ) {
        let inside = Inside::Model(model);
        self.walk_down(self.positions_of(inside), self.occupants(inside), at, MAX_DEPTH, &mut visit);
    }

    fn walk_down(
        &self,
        positions: Option<Positions<'_>>,
        occupants: &[Occupant],
        at: Instant,
        depth: usize,
        visit: &mut impl FnMut(&ComponentFile, Option<&Position>),
    ) {
        let mut next = 0;
        for occupant in occupants.iter().filter(|occupant| occupant.span.holds_at(at)) {
            let Some(file) = self.component(occupant.component) else { continue };
            visit(file, position_from(positions, &mut next, &occupant.span.position));
            if depth > 1 && !file.occupants.is_empty() {
                self.walk_down(self.positions_of_part(file), &file.occupants, at, depth - 1, visit);
            }
        }
    }

    /// Every stretch of time a component spent in a model, through every level of nesting, oldest first.
    #[must_use]
    pub fn model_spans(&self, component: ComponentId) -> Vec<ModelSpan> {
        let mut spans = Vec::new();
        self.walk_spans(component, |stretch| {
            let Stretch { model, from, to, seats } = stretch;
            spans.push(ModelSpan { model, path: seats.path(), from, to });
        });
        spans.sort_by(|a, b| (a.from, &a.path).cmp(&(b.from, &b.path)));
        spans
    }

    /// The same in no order, without putting paths together.
    pub(crate) fn walk_spans(&self, component: ComponentId, mut visit: impl FnMut(Stretch<'_>)) {
        for span in self.component(component).map_or(&[][..], |file| file.spans.as_slice()) {
            self.walk_up(span, (span.from, span.to), None, MAX_DEPTH, &mut visit);
        }
    }

    fn walk_up(
        &self,
        span: &Span,
        (from, to): (Instant, Option<Instant>),
        below: Option<&Seats<'_>>,
        depth: usize,
        visit: &mut impl FnMut(Stretch<'_>),
    ) {
        let seats = Seats { position: &span.position, below };
        let parent = match span.inside {
            Inside::Model(model) => return visit(Stretch { model, from, to, seats }),
            Inside::Component(parent) => parent,
        };
        let Some(holder) = self.component(parent).filter(|_| depth > 1) else { return };
        for outer in &holder.spans {
            let from = from.max(outer.from);
            let to = earliest(to, outer.to);
            if to.is_none_or(|to| from < to) {
                self.walk_up(outer, (from, to), Some(&seats), depth - 1, visit);
            }
        }
    }

    /// Where a component is at a moment.
    #[must_use]
    pub fn place_at(&self, component: ComponentId, at: Instant) -> Place {
        let mut path = String::new();
        let mut current = component;
        for _ in 0..MAX_DEPTH {
            let Some(span) = self.component(current).and_then(|file| file.span_at(at)) else { break };
            path =
                if path.is_empty() { span.position.to_string() } else { format!("{}/{path}", span.position) };
            match span.inside {
                Inside::Model(model) => return Place::InModel(model, path),
                Inside::Component(parent) => current = parent,
            }
        }
        if current == component { Place::Loose } else { Place::InPanel(current, path) }
    }

    /// The design's position in which a component sits at a moment.
    #[must_use]
    pub fn position_at(&self, component: ComponentId, at: Instant) -> Option<&Position> {
        let span = self.component(component)?.span_at(at)?;
        self.position(span.inside, &span.position)
    }

    /// Usage of a model in `[from, to)`.
    #[must_use]
    pub fn model_usage(&self, model: ModelId, from: Instant, to: Instant) -> Usage {
        self.model(model).map_or_else(Usage::default, |file| file.usage(from, to))
    }
}

/// The position with a path among those of a holder.
/// The design of a holder, and the code of the seat that the holder fills; none for the model itself.
type Positions<'a> = (&'a Design, Option<&'a Tag>);

fn position_in<'a>(positions: Option<Positions<'a>>, path: &Tag) -> Option<&'a Position> {
    position_from(positions, &mut 0, path)
}

/// The same, looked for from behind the one found last: parts are mostly fitted in the order of their positions.
fn position_from<'a>(positions: Option<Positions<'a>>, next: &mut usize, path: &Tag) -> Option<&'a Position> {
    let (design, seat) = positions?;
    let is_it = |position: &Position| position.path == *path && position.inside.as_ref() == seat;
    let (before, behind) = design.positions.split_at_checked(*next)?;
    let found = match behind.iter().position(is_it) {
        Some(further) => before.len() + further,
        None => before.iter().position(is_it)?,
    };
    *next = found + 1;
    design.positions.get(found)
}

fn join(prefix: &str, position: &Tag) -> String {
    let position = position.as_str();
    if prefix.is_empty() { position.to_owned() } else { [prefix, "/", position].concat() }
}

fn earliest(a: Option<Instant>, b: Option<Instant>) -> Option<Instant> {
    match (a, b) {
        (Some(a), Some(b)) => Some(a.min(b)),
        (one, None) | (None, one) => one,
    }
}
