//! May a model fly on a day: every reason, the state word, the flights allowed.

use chrono::NaiveDate;
use preen_domain::{
    facts::{Inside, Loan, Subject},
    ids::ModelId,
    time::start_of_day,
    words::{CheckResult, CheckState, ComponentState, EventKind, PartKind, RestrictionKind, Severity, State},
};

use super::{
    Asked, Book, balance, campaigns,
    checks::{self, Check},
    defects, each, fits, items,
    places::{carried, position_of, positions, sits_in, state_at},
    readings, repairs,
};

/// Code, severity and subject of one reason.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct Reason {
    pub code: String,
    pub severity: Severity,
    pub subject: String,
}

impl Reason {
    pub fn new(code: &str, severity: Severity, subject: impl Into<String>) -> Self {
        Self { code: code.to_owned(), severity, subject: subject.into() }
    }
}

/// Kind, source, number as text and day of one restriction.
pub type Restricted = (RestrictionKind, String, Option<String>, Option<NaiveDate>);

#[derive(Debug, Clone, PartialEq)]
pub struct Verdict {
    pub state: State,
    pub may_fly: bool,
    pub max_flights: Option<i64>,
    pub flights_left: Option<i64>,
    pub restrictions: Vec<Restricted>,
    /// For each kind its tightest number, its earliest day where it is one, and the sources of these.
    pub tightest: Vec<Tightest>,
    pub reasons: Vec<Reason>,
}

/// Kind, tightest number, earliest day, and the sources of these.
pub type Tightest = (RestrictionKind, Option<String>, Option<NaiveDate>, Vec<String>);

pub fn of_model(book: &Book, model: ModelId, asked: Asked) -> Verdict {
    let mut reasons = Vec::new();
    let is_lent = lent(book, model, asked, &mut reasons);
    let is_laid_up = out_of_use(book, model, asked, &mut reasons);
    let is_incomplete = empty_seats(book, model, asked, &mut reasons);
    parts(book, model, asked, &mut reasons);
    let checks = checks::of_model(book, model, asked);
    for check in &checks {
        of_check(check, book, asked, &mut reasons);
    }
    failed_checks(book, model, asked, &mut reasons);
    reasons.extend(items::reasons(book, model, asked));
    let open = defects::open_on(book, model, asked);
    for defect in &open {
        reasons.push(Reason::new("defect_open", defect.severity, defect.name()));
    }
    of_readings(book, model, asked, &mut reasons);
    let unflown = repairs::unflown(book, model, asked.as_of);
    for repair in &unflown {
        reasons.push(Reason::new("first_flight_after_repair", Severity::Restrict, repair.as_str()));
    }
    if !is_incomplete {
        reasons.extend(balance::reasons(book, model, asked.as_of));
        reasons.extend(fits::reasons(book, model, asked));
    }
    let (said, counts) = campaigns::words(book, model, asked);
    reasons.extend(said);
    reasons.sort();

    let mut restrictions: Vec<Restricted> = counts
        .iter()
        .map(|(left, name)| (RestrictionKind::MaxFlights, name.clone(), Some(format!("{left}.000")), None))
        .collect();
    let mut by_count: Vec<i64> = counts.iter().map(|(left, _)| *left).collect();
    for defect in &open {
        by_count.extend(defect.flights_left);
        for (kind, number, day) in &defect.restrictions {
            restrictions.push((*kind, defect.name(), number.map(|number| format!("{number:.3}")), *day));
        }
    }
    restrictions
        .extend(unflown.into_iter().map(|repair| (RestrictionKind::LightLaunchOnly, repair, None, None)));
    restrictions.sort();
    let by_checks = checks
        .iter()
        .filter(|check| check.counts_flights)
        .filter_map(|check| Some((check.due_at_count? + check.tolerance_count - check.now_at_count?).max(0)));
    let flights_left = by_count.iter().copied().chain(by_checks).min();

    let only_counts = |reason: &Reason| {
        open.iter().any(|defect| {
            defect.name() == reason.subject
                && !defect.restrictions.is_empty()
                && defect.restrictions.iter().all(|(kind, ..)| *kind == RestrictionKind::MaxFlights)
        })
    };
    let is_more_than_counted =
        open.iter().any(|d| d.restrictions.iter().any(|(kind, ..)| *kind != RestrictionKind::MaxFlights));
    let grounds = reasons.iter().any(|reason| reason.severity == Severity::Ground);
    let restricts = is_more_than_counted
        || reasons.iter().any(|reason| reason.severity == Severity::Restrict && !only_counts(reason));
    let state = match (is_lent, is_laid_up, is_incomplete, grounds, restricts) {
        (true, ..) => State::OnLoan,
        (_, true, ..) => State::LaidUp,
        (_, _, true, ..) => State::Incomplete,
        (_, _, _, true, _) => State::Grounded,
        (_, _, _, _, true) => State::Restricted,
        _ => State::Fit,
    };
    let may_fly = state == State::Fit || state == State::Restricted;
    let max_flights = flights_left.filter(|_| may_fly && !by_count.is_empty());
    let tightest = tightest(&restrictions);
    Verdict { state, may_fly, max_flights, flights_left, restrictions, tightest, reasons }
}

/// Kind by kind: the smallest number, the earliest day of `until_date`, and who says so.
fn tightest(restrictions: &[Restricted]) -> Vec<Tightest> {
    let mut list = Vec::new();
    let mut kinds: Vec<RestrictionKind> = restrictions.iter().map(|one| one.0).collect();
    kinds.sort();
    kinds.dedup();
    for kind in kinds {
        let has_number = matches!(
            kind,
            RestrictionKind::MaxFlights | RestrictionKind::MaxLaunchesPerCharge | RestrictionKind::MaxWind
        );
        let mut best: Option<(f64, Option<NaiveDate>)> = None;
        let mut sources: Vec<String> = Vec::new();
        for (_, source, number, day) in restrictions.iter().filter(|one| one.0 == kind) {
            let number = number.as_ref().filter(|_| has_number).map_or(0.0, |text| text.parse().unwrap());
            let day = day.filter(|_| kind == RestrictionKind::UntilDate);
            if best.is_none_or(|known| (number, day) < known) {
                best = Some((number, day));
                sources.clear();
            }
            if best == Some((number, day)) {
                sources.push(source.clone());
            }
        }
        sources.sort();
        sources.dedup();
        let (number, day) = best.unwrap();
        list.push((kind, has_number.then(|| format!("{number:.3}")), day, sources));
    }
    list
}

/// The loan of an item that runs on the day: agreed by then, begun, not returned by then.
pub fn running(book: &Book, item: Subject, asked: Asked) -> Option<&Loan> {
    let mut running: Vec<&Loan> = each!(book, Loan)
        .filter(|loan| {
            let is_back =
                each!(book, LoanReturn).any(|back| back.loan == loan.id && back.occurred_at <= asked.as_of);
            loan.item == item && loan.occurred_at <= asked.as_of && loan.from_on <= asked.on && !is_back
        })
        .collect();
    running.sort_by_key(|loan| loan.id);
    running.first().copied()
}

fn lent(book: &Book, model: ModelId, asked: Asked, reasons: &mut Vec<Reason>) -> bool {
    let Some(loan) = running(book, Subject::Model(model), asked) else { return false };
    let is_for_asker = asked.pilot == Some(loan.lent_to);
    let severity = if is_for_asker { Severity::Watch } else { Severity::Ground };
    reasons.push(Reason::new("on_loan", severity, book.model(model).tag.as_str()));
    !is_for_asker
}

fn out_of_use(book: &Book, model: ModelId, asked: Asked, reasons: &mut Vec<Reason>) -> bool {
    let tag = book.model(model).tag.as_str();
    let mut last = None;
    let mut is_gone = false;
    for event in each!(book, Event) {
        if event.model != model || event.occurred_at > asked.as_of {
            continue;
        }
        is_gone |= matches!(event.kind, EventKind::Sold | EventKind::Lost | EventKind::WrittenOff);
        let key = (event.occurred_at, event.id);
        if matches!(event.kind, EventKind::LaidUp | EventKind::ReturnedToFlying)
            && last.is_none_or(|(known, _)| key > known)
        {
            last = Some((key, event.kind));
        }
    }
    if is_gone {
        reasons.push(Reason::new("model_gone", Severity::Ground, tag));
    }
    let is_laid_up = last.is_some_and(|(_, kind)| kind == EventKind::LaidUp);
    if is_laid_up {
        reasons.push(Reason::new("laid_up", Severity::Ground, tag));
    }
    is_laid_up
}

fn empty_seats(book: &Book, model: ModelId, asked: Asked, reasons: &mut Vec<Reason>) -> bool {
    let mut holders = vec![(Inside::Model(model), String::new())];
    for part in carried(book, model, asked.as_of) {
        holders.push((Inside::Component(part.component), format!("{}/", part.path)));
    }
    let before = reasons.len();
    for (holder, prefix) in holders {
        for position in positions(book, holder) {
            if position.is_required && sits_in(book, holder, &position.path, asked.as_of).is_none() {
                let path = format!("{prefix}{}", position.path);
                reasons.push(Reason::new("position_empty", Severity::Ground, path));
            }
        }
    }
    reasons.len() > before
}

fn parts(book: &Book, model: ModelId, asked: Asked, reasons: &mut Vec<Reason>) {
    for part in carried(book, model, asked.as_of) {
        let tag = book.component(part.component).tag.as_str();
        if state_at(book, part.component, asked.as_of) != ComponentState::Serviceable {
            reasons.push(Reason::new("part_not_serviceable", Severity::Ground, tag));
        }
        let named = position_of(book, &part).map_or(&[][..], |position| position.parts.as_slice());
        let own = book.component(part.component).part;
        if !named.is_empty() && named.iter().all(|type_of| *type_of != own) {
            reasons.push(Reason::new("part_type_not_taken", Severity::Ground, tag));
        }
        if let Some(loan) = running(book, Subject::Component(part.component), asked) {
            reasons.push(if asked.on > loan.due_back_on {
                Reason::new("borrowed_part_late", Severity::Restrict, tag)
            } else {
                Reason::new("borrowed_part", Severity::Watch, tag)
            });
        }
    }
}

/// Groups whose newest check was failed, in the model or on a part of it alone.
fn failed_checks(book: &Book, model: ModelId, asked: Asked, reasons: &mut Vec<Reason>) {
    let Some(programme) = book.programme(model) else { return };
    for group in &programme.groups {
        if !checks::applies(book, model, group, asked.as_of) {
            continue;
        }
        let mut newest = None;
        for inspection in each!(book, Inspection) {
            let key = (inspection.occurred_at, inspection.id);
            if inspection.model == Some(model)
                && inspection.group == group.code
                && inspection.occurred_at <= asked.as_of
                && newest.is_none_or(|(known, _)| key > known)
            {
                newest = Some((key, inspection.result));
            }
        }
        // What a pack failed in the model went with that pack.
        let came = checks::packs(book, model, asked.as_of).into_iter().map(|(_, since)| since).max();
        let is_of_another = group.applies_to == Some(PartKind::Pack)
            && newest.is_some_and(|((at, _), _)| came.is_some_and(|came| at < came));
        if !is_of_another && newest.is_some_and(|(_, result)| result == CheckResult::Fail) {
            reasons.push(Reason::new("check_failed", Severity::Ground, group.code.as_str()));
        }
        for part in carried(book, model, asked.as_of) {
            if items::failed_alone(book, model, group.code.as_str(), part.component, asked) {
                reasons.push(Reason::new("check_failed", Severity::Ground, group.code.as_str()));
            }
        }
    }
}

fn of_check(check: &Check, book: &Book, asked: Asked, reasons: &mut Vec<Reason>) {
    for (code, subject, cures_until) in &check.opened_by {
        let day_begins_at = asked.as_of.max(start_of_day(asked.on, book.zone));
        let is_curing = cures_until.is_some_and(|until| day_begins_at < until);
        reasons.push(Reason::new(
            if is_curing { "repair_curing" } else { code },
            Severity::Ground,
            subject.as_str(),
        ));
    }
    if check.opened_by.iter().any(|(code, ..)| *code != checks::REINSPECTION) {
        return;
    }
    let Some(state) = check.by_interval else { return };
    match state {
        CheckState::Overdue => {
            reasons.push(Reason::new("check_overdue", Severity::Ground, check.group.as_str()));
        }
        CheckState::NeverDone => {
            reasons.push(Reason::new("check_never_done", Severity::Ground, check.group.as_str()));
        }
        CheckState::Due => reasons.push(Reason::new("check_due", Severity::Watch, check.group.as_str())),
        CheckState::Clear => {
            let is_soon = check.due_on.is_some_and(|due| (due - asked.on).num_days() <= 7);
            if is_soon {
                reasons.push(Reason::new("check_soon", Severity::Watch, check.group.as_str()));
            }
        }
    }
}

/// Readings at restrict or ground that no open defect as bad speaks of, on the model and on all that it carries.
fn of_readings(book: &Book, model: ModelId, asked: Asked, reasons: &mut Vec<Reason>) {
    let Some(programme) = book.programme(model) else { return };
    let mut say = |subject: Subject, tag: &str, kind: Option<&str>| {
        for severity in readings::beyond(book, subject, programme, kind, asked.as_of) {
            if severity > Severity::Watch {
                reasons.push(Reason::new("reading_beyond_limit", severity, tag));
            }
        }
    };
    say(Subject::Model(model), book.model(model).tag.as_str(), None);
    for part in carried(book, model, asked.as_of) {
        let kind = position_of(book, &part).map(|position| position.kind.as_str());
        say(Subject::Component(part.component), book.component(part.component).tag.as_str(), kind);
    }
}

/// Whether a required position is empty.
pub fn has_empty_seat(book: &Book, model: ModelId, asked: Asked) -> bool {
    empty_seats(book, model, asked, &mut Vec::new())
}
