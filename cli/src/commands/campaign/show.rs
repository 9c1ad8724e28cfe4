//! Campaigns as tables for people and as rows.

use chrono_tz::Tz;
use preen_domain::answers::{CampaignList, CampaignProgress, CampaignTarget, ReplacementNeed, TargetCounts};
use preen_domain::words::{Standing, TargetPlace};

use crate::moments::show_moment;
use crate::output::{Block, Cell, Reply, Table, Tone, left, right};

/// 2: something is overdue or has to come off; 1: something is open; 0: not.
pub fn code(counts: &TargetCounts) -> u8 {
    match (counts.overdue + counts.failed, counts.open) {
        (0, 0) => 0,
        (0, _) => 1,
        _ => 2,
    }
}

fn standing_cell(standing: Standing, text: &str) -> Cell {
    let (shape, tone) = match standing {
        Standing::Failed | Standing::Overdue => ("■", Tone::Bad),
        Standing::Open => ("▲", Tone::Caution),
        Standing::KeptOut => ("□", Tone::Plain),
        Standing::Done => ("●", Tone::Good),
    };
    Cell::toned(format!("{shape} {text}"), tone)
}

fn word(standing: Standing) -> String {
    standing.as_str().replace('_', " ")
}

/// The counts that are not nothing, in words.
fn counted(counts: &TargetCounts) -> String {
    let named = [
        (counts.overdue, "overdue"),
        (counts.failed, "to come off"),
        (counts.open, "open"),
        (counts.kept_out, "kept out"),
        (counts.done, "done"),
        (counts.out_of_reach, "out of reach"),
        (counts.left, "left since the opening"),
    ];
    let said: Vec<String> =
        named.iter().filter(|(count, _)| *count > 0).map(|(count, what)| format!("{count} {what}")).collect();
    if said.is_empty() { "nothing to do".to_owned() } else { said.join(", ") }
}

/// All campaigns.
pub fn list(reply: &mut Reply, list: &CampaignList, frame: &str, zone: Tz) {
    let mut table =
        Table::new(["campaign", "covers", "state", "opened", "parts", "how they stand"].map(left));
    let mut rows = Table::new(
        [
            "campaign",
            "covers",
            "opened_at",
            "closed_at",
            "targets",
            "open",
            "overdue",
            "failed",
            "kept_out",
            "done",
            "out_of_reach",
            "left",
            "short_count",
        ]
        .map(left),
    );
    for row in &list.campaigns {
        let state = row.closed_at.map_or_else(
            || Cell::toned("○ open", Tone::Caution),
            |at| Cell::plain(format!("● closed {}", show_moment(at, zone))),
        );
        table.push([
            Cell::plain(row.campaign.as_str()),
            Cell::plain(row.covers.as_str()),
            state,
            Cell::plain(show_moment(row.opened_at, zone)),
            Cell::of(row.counts.targets),
            Cell::plain(counted(&row.counts)),
        ]);
        let counts = &row.counts;
        rows.push([
            Cell::plain(row.campaign.as_str()),
            Cell::plain(row.covers.as_str()),
            Cell::of(row.opened_at),
            Cell::maybe(row.closed_at),
            Cell::of(counts.targets),
            Cell::of(counts.open),
            Cell::of(counts.overdue),
            Cell::of(counts.failed),
            Cell::of(counts.kept_out),
            Cell::of(counts.done),
            Cell::of(counts.out_of_reach),
            Cell::of(counts.left),
            Cell::of(row.short_count),
        ]);
    }
    reply.line(frame);
    if list.campaigns.is_empty() {
        reply.line("No campaign was opened.");
    } else {
        reply.line("");
        reply.blocks.push(Block::Table(table));
        reply.hint("`preen campaign progress CAMPAIGN` shows each part.");
    }
    reply.csv = rows;
}

/// One campaign, part by part.
pub fn progress(reply: &mut Reply, progress: &CampaignProgress, frame: Option<&str>) {
    let open = if progress.is_open { "open" } else { "closed" };
    reply.line(format!("{}: {}, {open}.", progress.campaign, progress.covers()));
    if let Some(frame) = frame {
        reply.line(frame);
    }
    if let Some(text) = &progress.text {
        reply.line(text.as_str());
    }
    reply.line(format!("{} parts: {}.", progress.counts.targets, counted(&progress.counts)));
    for action in &progress.actions {
        reply.line(format!(
            "Action {}: {}, {}: {}.",
            action.number,
            action.text,
            action.deadline,
            counted(&action.counts)
        ));
    }
    if !progress.targets.is_empty() {
        reply.line("");
        reply.blocks.push(Block::Table(targets(progress)));
    }
    if !progress.left.is_empty() {
        reply.line("");
        let mut table = Table::new(["left", "from", "on", "why", "now there"].map(left));
        for part in &progress.left {
            table.push([
                Cell::plain(part.component.as_str()),
                Cell::plain(match &part.model {
                    Some(model) => format!("{model} {}", part.path),
                    None => part.path.clone(),
                }),
                Cell::of(part.left_at),
                Cell::maybe(part.reason),
                Cell::plain(part.replaced_by.clone().unwrap_or_else(|| "nothing".to_owned())),
            ]);
        }
        reply.blocks.push(Block::Table(table));
    }
    if !progress.needs.is_empty() {
        reply.line("");
    }
    for need in &progress.needs {
        reply.line(need_line(need));
    }
    for waiver in &progress.waived {
        reply.line(format!("Let stand: {}, {}.", waiver.component, waiver.reason));
    }
    if !progress.serials_unknown.is_empty() {
        reply.line(format!(
            "Serial number not on record, so nobody can say whether they are meant: {}.",
            progress.serials_unknown.join(", ")
        ));
    }
    reply.csv = rows(&progress.targets);
}

fn need_line(need: &ReplacementNeed) -> String {
    let what = need.batch.as_ref().map_or_else(
        || format!("{} that the campaign does not cover", need.part),
        |batch| format!("{}/{batch}", need.part),
    );
    let short = |short: usize| if short == 0 { "enough".to_owned() } else { format!("short {short}") };
    let shelf =
        if need.on_shelf.is_empty() { String::new() } else { format!(" ({})", need.on_shelf.join(", ")) };
    let models = match (need.models_need_count, need.models_short_count) {
        (Some(count), Some(missing)) => format!(" The models named need {count}: {}.", short(missing)),
        _ => String::new(),
    };
    format!(
        "{what}: {} needed, {} on the shelf{shelf}: {}.{models}",
        need.need_count,
        need.on_shelf_count,
        short(need.short_count)
    )
}

fn place(target: &CampaignTarget) -> String {
    let at = target.path.as_ref().map(|path| format!(" {path}")).unwrap_or_default();
    match (&target.model, &target.inside, &target.location, target.place) {
        (Some(model), ..) => format!("{model}{at}"),
        (None, Some(panel), ..) => format!("{panel}{at}"),
        (None, None, _, TargetPlace::Loaned) => "lent".to_owned(),
        (None, None, Some(location), _) => location.clone(),
        (None, None, None, place) => place.as_str().to_owned(),
    }
}

fn targets(progress: &CampaignProgress) -> Table {
    let mut columns: Vec<_> = ["part", "where", "with", "state"].map(left).into();
    columns.extend(progress.actions.iter().map(|action| left(format!("action {}", action.number))));
    columns.extend([right("flights left"), left("by")]);
    let mut table = Table::new(columns);
    for target in &progress.targets {
        let with = match (&target.lent_to, target.due_back_on) {
            (Some(member), Some(day)) => format!("{member}, due back {day}"),
            _ => target.has_it.clone().unwrap_or_default(),
        };
        let mut cells = vec![
            Cell::plain(target.component.as_str()),
            Cell::plain(place(target)),
            Cell::plain(with),
            Cell::plain(target.component_state.as_str().replace('_', " ")),
        ];
        cells.extend(target.actions.iter().map(|action| {
            let found = action.found.as_ref().map(|found| format!(" ({found})")).unwrap_or_default();
            standing_cell(action.standing, &format!("{}{found}", word(action.standing)))
        }));
        cells.extend([Cell::maybe(target.flights_left), Cell::maybe(target.due_on)]);
        table.push(cells);
    }
    table
}

/// What is to be done, place by place, with a box to tick for each.
pub fn work_list(reply: &mut Reply, progress: &CampaignProgress, frame: &str) {
    reply.line(format!("Work list of {}: {}", progress.campaign, progress.covers()));
    reply.line(frame);
    let mut rows = Table::new(
        ["place", "model", "has_it", "component", "path", "action", "standing", "text", "deadline"].map(left),
    );
    if progress.work_list.is_empty() {
        reply.line("Nothing is to be done.");
    }
    for group in &progress.work_list {
        reply.line("");
        reply.line(match &group.has_it {
            Some(member) if group.place != format!("with {member}") => format!("{} ({member})", group.place),
            _ => group.place.clone(),
        });
        for step in &group.steps {
            let until = match (step.standing, step.deadline.is_empty()) {
                (Standing::Overdue, _) => format!(" – OVERDUE, was to be done {}", step.deadline),
                (_, false) => format!(" – {}", step.deadline),
                (_, true) => String::new(),
            };
            reply.line(format!("  [ ] {}. {}{until}", step.action, step.text));
            rows.push([
                Cell::plain(group.place.as_str()),
                Cell::maybe(group.model.as_ref()),
                Cell::maybe(group.has_it.as_ref()),
                Cell::plain(step.component.as_str()),
                Cell::maybe(step.path.as_ref()),
                Cell::of(step.action),
                Cell::of(step.standing),
                Cell::plain(step.text.as_str()),
                Cell::plain(step.deadline.as_str()),
            ]);
        }
    }
    reply.line("");
    for need in &progress.needs {
        reply.line(need_line(need));
    }
    reply.line(
        "After each swap: direction of control and failsafe by a second person (SW), before the next flight.",
    );
    reply.csv = rows;
}

fn rows(targets: &[CampaignTarget]) -> Table {
    let mut table = Table::new(
        [
            "component",
            "batch",
            "serial",
            "place",
            "component_state",
            "model",
            "inside",
            "path",
            "location",
            "lent_to",
            "due_back_on",
            "has_it",
            "is_out_of_reach",
            "standing",
            "flights_left",
            "due_on",
        ]
        .map(left),
    );
    for target in targets {
        table.push([
            Cell::plain(target.component.as_str()),
            Cell::maybe(target.batch.as_ref()),
            Cell::maybe(target.serial.as_ref()),
            Cell::of(target.place),
            Cell::of(target.component_state),
            Cell::maybe(target.model.as_ref()),
            Cell::maybe(target.inside.as_ref()),
            Cell::maybe(target.path.as_ref()),
            Cell::maybe(target.location.as_ref()),
            Cell::maybe(target.lent_to.as_ref()),
            Cell::maybe(target.due_back_on),
            Cell::maybe(target.has_it.as_ref()),
            Cell::of(target.is_out_of_reach),
            Cell::of(target.standing),
            Cell::maybe(target.flights_left),
            Cell::maybe(target.due_on),
        ]);
    }
    table
}
