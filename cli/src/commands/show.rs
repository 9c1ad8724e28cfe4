//! Listing and showing what is on record, with tags where facts point at each other by id.

use preen_domain::facts::Noun;
use serde::Deserialize;
use serde_json::value::RawValue;
use serde_json::{Map, Value};

use super::Session;
use super::nouns::{ListArgs, ShowArgs, has_moment};
use crate::failure::Failure;
use crate::fields::{Kind, fields_of};
use crate::moments::{parse_moment_or_day, show_short};
use crate::names::Names;
use crate::output::{Block, Cell, Column, Reply, Table, left, progress, right};
use crate::suggest::closest;

#[derive(Deserialize)]
struct Page {
    items: Vec<Box<RawValue>>,
    next: Option<String>,
}

/// What people want to see of a noun in a list, in order. CSV shows the same.
const fn columns(noun: Noun) -> &'static [&'static str] {
    match noun {
        Noun::Members => &["tag", "name", "roles", "subscription"],
        Noun::Designs => {
            &["tag", "class_use", "span_m", "wing_area_dm2", "mac_mm", "cg_min_mm", "cg_max_mm", "datum"]
        }
        Noun::Parts => &["tag", "kind", "maker", "tracking", "nominal_mass_g", "note"],
        Noun::Models => &["tag", "design", "owner", "ownership", "first_flight_on", "note"],
        Noun::Programmes => &["tag", "title", "design", "model"],
        Noun::Components => &["tag", "part", "batch", "mass_g", "seat", "acquired_on", "note"],
        Noun::Conditions => &["occurred_at", "component", "state", "location", "reason"],
        Noun::Installations => &["occurred_at", "component", "inside", "position", "fitted_by", "note"],
        Noun::Removals => &["occurred_at", "component", "reason", "removed_by", "note"],
        Noun::Flights => {
            &["occurred_at", "tag", "model", "pilot", "launches", "airtime_min", "motor_s", "landing", "note"]
        }
        Noun::Riggings => &["occurred_at", "tag", "model", "cycles", "note"],
        Noun::Inspections => {
            &["occurred_at", "tag", "model", "component", "group", "result", "inspected_by", "note"]
        }
        Noun::Measurements => {
            &["occurred_at", "tag", "subject", "quantity", "values", "unit", "measured_by", "note"]
        }
        Noun::Weighings => &[
            "occurred_at",
            "tag",
            "model",
            "mass_g",
            "x_mm",
            "u_x_mm",
            "y_mm",
            "weighed_by",
            "configuration",
        ],
        Noun::Defects => {
            &["occurred_at", "tag", "model", "subject", "severity", "restriction", "fix_by_on", "text"]
        }
        Noun::Deferrals => {
            &["occurred_at", "defect", "restrictions", "fix_by_on", "within_flights", "deferred_by", "reason"]
        }
        Noun::Closures => &["occurred_at", "defect", "kind", "closed_by", "text"],
        Noun::Repairs => {
            &["occurred_at", "tag", "model", "kind", "defect", "cure_until_at", "done_by", "text"]
        }
        Noun::RepairSteps => &["occurred_at", "repair", "steps", "resin", "mass_added_g", "done_by", "note"],
        Noun::Releases => &["occurred_at", "repair", "released_by", "second_person", "note"],
        Noun::Campaigns => &["occurred_at", "tag", "part", "batch", "position_kind", "text"],
        Noun::CampaignWorks => {
            &["occurred_at", "campaign", "action", "component", "result", "done_by", "note"]
        }
        Noun::CampaignClosures => &["occurred_at", "campaign", "closed_by", "text"],
        Noun::Loans => &["tag", "item", "lent_to", "for_model", "from_on", "due_back_on", "note"],
        Noun::LoanReturns => &["occurred_at", "loan", "note"],
        Noun::Limits => &["tag", "limit", "reason"],
        Noun::Classes => &["tag", "title", "edition", "confirmed_by", "confirmed_on", "source"],
        Noun::Contests => &[
            "tag",
            "title",
            "place",
            "class",
            "check_in_at",
            "first_on",
            "last_on",
            "prelim_rounds_max",
            "flyoff_rounds_max",
        ],
        Noun::Entries => &["contest", "pilot", "model", "reserves", "parts", "state", "marks"],
        Noun::Lots => &["tag", "item", "quantity", "unit", "opened_on", "use_by_on"],
        Noun::Slugs => &["tag", "mass_g", "count", "purpose", "design"],
        Noun::MatchedSets => &["tag", "component", "mates", "marks", "orientation"],
        Noun::Pairings => &["occurred_at", "component", "mates", "clearance_mm", "accepted_by", "note"],
        Noun::Photos => {
            &["occurred_at", "subject", "defect", "repair", "width_px", "height_px", "taken_by", "text", "id"]
        }
        Noun::Charges => &["occurred_at", "tag", "component", "charged_mah", "note"],
        Noun::Events => &["occurred_at", "tag", "model", "kind", "note"],
        Noun::Questions => &["occurred_at", "noun", "reasons", "id"],
        Noun::Settlements => &["occurred_at", "question", "text"],
        Noun::Corrections => &["noun", "original", "is_void", "reason", "recorded_by"],
    }
}

/// Lists what is on record.
pub fn list(noun: Noun, args: &ListArgs, session: &mut Session<'_, '_>) -> Result<Reply, Failure> {
    let query = query(noun, args, session)?;
    let mut items: Vec<Box<RawValue>> = Vec::new();
    let mut cursor: Option<String> = None;
    let wanted = if args.all { usize::MAX } else { usize::try_from(args.limit).unwrap_or(usize::MAX) };
    loop {
        let mut query: Vec<(&str, String)> =
            query.iter().map(|(name, value)| (name.as_str(), value.clone())).collect();
        query.push(("limit", wanted.saturating_sub(items.len()).min(500).to_string()));
        query.extend(cursor.map(|cursor| ("cursor", cursor)));
        let page: Page = session.client.get(&[noun.as_str()], &query)?.read()?;
        items.extend(page.items);
        cursor = page.next;
        if cursor.is_none() || items.len() >= wanted {
            break;
        }
        progress(session.io, &format!("{} {noun} …", items.len()));
    }
    progress(session.io, "");
    let texts: Vec<&str> = items.iter().map(|item| item.get()).collect();
    let next = serde_json::to_string(&cursor).unwrap_or_else(|_not_json| "null".to_owned());
    let json = format!("{{\"items\":[{}],\"next\":{next}}}", texts.join(","));
    if session.is_json {
        return Ok(Reply { json, ..Reply::default() });
    }
    let mut table = table(noun, &texts, session)?;
    if !has_moment(noun) {
        // What exists is looked up by its tag, which stands first.
        table.rows.sort_by(|a, b| a.first().map(|cell| &cell.text).cmp(&b.first().map(|cell| &cell.text)));
    }
    let mut reply = Reply::of_table(json, table);
    if items.is_empty() {
        reply.blocks.clear();
        reply.line(format!("No {noun} like that are on record."));
    }
    if noun == Noun::Components && !items.is_empty() {
        reply.hint("`preen where --part PART` says where they are and in what state.");
    }
    if cursor.is_some() {
        reply
            .hint(format!("There are more than {wanted}: --all lists all, --limit more, FIELD=VALUE fewer."));
    }
    Ok(reply)
}

fn query(noun: Noun, args: &ListArgs, session: &Session<'_, '_>) -> Result<Vec<(String, String)>, Failure> {
    let mut query: Vec<(String, String)> = Vec::new();
    for filter in &args.filters {
        let (field, value) = filter.split_once('=').ok_or_else(|| {
            Failure::bad_input(format!("`{filter}` is not FIELD=VALUE.")).hint("As in model=SG-01.")
        })?;
        let fields = fields_of(noun);
        let Some((known, target)) = fields.iter().find(|one| one.name == field).map(|one| {
            let pointer = format!("/{field}");
            (one, noun.references().iter().find(|(at, _)| *at == pointer).map(|(_, target)| *target))
        }) else {
            let failure = Failure::bad_input(format!("The {noun} have no field `{field}`."));
            return Err(match closest(field, fields.iter().map(|one| one.name.as_str())) {
                Some(close) => failure.hint(format!("Did you mean {close}?")),
                None => failure.hint(format!("`preen {noun} fields` lists the fields.")),
            });
        };
        if let Some(target) = target {
            session.client.mention(target, value);
        }
        let value = match (&known.kind, value) {
            (Kind::YesNo, "yes") => "true",
            (Kind::YesNo, "no") => "false",
            (_, value) => value,
        };
        query.push((field.to_owned(), value.to_owned()));
    }
    let moment = |text: &Option<String>| -> Result<Option<String>, Failure> {
        let Some(text) = text else { return Ok(None) };
        if !has_moment(noun) {
            return Err(Failure::bad_input(format!("The {noun} have no moment at which they happened.")));
        }
        parse_moment_or_day(text, session.client.zone()?, session.client.now()?).map(Some)
    };
    query.extend(moment(&args.from)?.map(|from| ("occurred_from".to_owned(), from)));
    query.extend(moment(&args.to)?.map(|to| ("occurred_to".to_owned(), to)));
    let sort = match (has_moment(noun), args.oldest) {
        (true, false) => "-occurred_at",
        (true, true) => "occurred_at",
        (false, _) => "revision",
    };
    query.push(("sort".to_owned(), sort.to_owned()));
    Ok(query)
}

fn table(noun: Noun, items: &[&str], session: &Session<'_, '_>) -> Result<Table, Failure> {
    let names = Names::fetch(&session.client, noun)?;
    let fields = fields_of(noun);
    let kind = |name: &str| fields.iter().find(|field| field.name == name).map(|field| &field.kind);
    let mut table = Table::new(columns(noun).iter().map(|name| {
        let is_number = matches!(kind(name), Some(Kind::Number | Kind::Whole));
        let shown = name.strip_suffix("_at").filter(|_| *name == "occurred_at").unwrap_or(name);
        Column { is_right: is_number, ..left(shown.replace('_', " ")) }
    }));
    for item in items {
        let fact: Map<String, Value> =
            serde_json::from_str(item).map_err(|error| Failure::unreachable(error.to_string()))?;
        let mut cells = Vec::new();
        for name in columns(noun) {
            cells.push(cell(session, &names, kind(name), fact.get(*name))?);
        }
        table.push(cells);
    }
    Ok(table)
}

fn cell(
    session: &Session<'_, '_>,
    names: &Names,
    kind: Option<&Kind>,
    value: Option<&Value>,
) -> Result<Cell, Failure> {
    let Some(value) = value else { return Ok(Cell::default()) };
    if kind == Some(&Kind::Moment)
        && let Some(at) = value.as_str().and_then(|text| text.parse().ok())
    {
        return Ok(Cell::plain(show_short(at, session.client.zone()?)));
    }
    Ok(Cell::plain(names.show(value)))
}

/// Shows one item with all its fields.
pub fn one(noun: Noun, args: &ShowArgs, session: &mut Session<'_, '_>) -> Result<Reply, Failure> {
    let name = session.client.name(noun, &args.name)?;
    let at_revision = args.at_revision.map(|revision| ("at_revision", revision.to_string()));
    let query: Vec<(&str, String)> = at_revision.into_iter().collect();
    let received = session.client.get(&[noun.as_str(), name], &query)?;
    let mut fact: Map<String, Value> = received.read()?;
    let mut reply = Reply { json: received.text, ..Reply::default() };
    if session.is_json {
        return Ok(reply);
    }
    let names = Names::fetch(&session.client, noun)?;
    let fields = fields_of(noun);
    let known = columns(noun).iter().map(|name| (*name).to_owned());
    let others: Vec<String> =
        fact.keys().filter(|name| !columns(noun).contains(&name.as_str())).cloned().collect();
    let mut lines = Vec::new();
    let mut tables = Vec::new();
    for name in known.chain(others) {
        let Some(value) = fact.remove(&name) else { continue };
        let title = name.replace('_', " ");
        match &value {
            Value::Array(list) if list.iter().any(Value::is_object) => {
                tables.push((title, inner_table(list, &names)));
            }
            Value::Array(list) if list.is_empty() => {}
            _ => {
                let kind = fields.iter().find(|field| field.name == name).map(|field| &field.kind);
                let kind = if name == "recorded_at" { Some(&Kind::Moment) } else { kind };
                let shown = match (name.as_str(), value.as_str()) {
                    ("id", Some(id)) => Cell::plain(id),
                    _ => cell(session, &names, kind, Some(&value))?,
                };
                lines.push((title, shown));
            }
        }
    }
    reply.csv = Table::new(["field", "value"].map(left));
    for (title, cell) in &lines {
        reply.csv.push([Cell::plain(title.as_str()), cell.clone()]);
    }
    reply.blocks.push(Block::Fields(lines));
    for (title, table) in tables {
        reply.line(format!("{title}:"));
        reply.blocks.push(Block::Table(table));
    }
    if noun == Noun::Components {
        reply.hint(format!(
            "`preen where {0}`, `preen usage {0}` and `preen history {0}` tell more.",
            args.name
        ));
    }
    Ok(reply)
}

/// A list of objects as a table: the fields that any of them has, in the order in which they turn up.
fn inner_table(list: &[Value], names: &Names) -> Table {
    let mut columns: Vec<&str> = Vec::new();
    for item in list.iter().filter_map(Value::as_object) {
        for name in item.keys() {
            if !columns.contains(&name.as_str()) {
                columns.push(name);
            }
        }
    }
    let is_number = |name: &str| list.iter().filter_map(|item| item.get(name)).all(Value::is_number);
    let mut table = Table::new(columns.iter().map(|name| {
        let title = name.replace('_', " ");
        if is_number(name) { right(title) } else { left(title) }
    }));
    for item in list {
        table.push(
            columns
                .iter()
                .map(|name| Cell::plain(item.get(*name).map(|value| names.show(value)).unwrap_or_default())),
        );
    }
    table
}
