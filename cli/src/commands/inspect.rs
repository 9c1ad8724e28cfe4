//! `preen inspect`: records a check that was done, item by item or as a whole.

use preen_domain::facts::Noun;
use preen_domain::words::{CheckResult, ItemResult};
use serde_json::{Map, Value, json};

use super::Session;
use super::record::{Draft, record};
use super::subject::Subject;
use crate::args::When;
use crate::failure::Failure;
use crate::output::Reply;

/// The check.
#[derive(Debug, clap::Args)]
#[command(after_help = "Without --item the group counts as judged as a whole, which is kept as such.")]
pub struct Args {
    /// What was checked: a model, or a single part such as a pack
    subject: String,
    /// Code of the group, such as N25
    group: String,
    /// Result of the whole: pass, restrict, fail
    #[arg(long)]
    result: CheckResult,
    /// Result of one item: pass, fail, not_applicable, not_looked_at, with the part where it is one, and the reading
    #[arg(long = "item", value_name = "ITEM[@PART]=RESULT[:VALUE]", value_parser = parse_item)]
    items: Vec<Item>,
    /// Programme it was done by [default: the one in force]
    #[arg(long)]
    programme: Option<String>,
    #[command(flatten)]
    when: When,
    /// Who did it, if not you
    #[arg(long, value_name = "MEMBER")]
    by: Option<String>,
    /// Number in the club's own log
    #[arg(long)]
    tag: Option<String>,
    /// Anything else worth knowing
    #[arg(long, value_name = "TEXT")]
    note: Option<String>,
}

/// Result of one item.
#[derive(Debug, Clone, PartialEq)]
struct Item {
    item: String,
    part: Option<String>,
    result: ItemResult,
    value: Option<f64>,
}

fn parse_item(text: &str) -> Result<Item, String> {
    let (item, said) =
        text.split_once('=').ok_or_else(|| format!("`{text}` is not ITEM=RESULT, as in N25-02=pass"))?;
    let (result, value) = match said.split_once(':') {
        Some((result, value)) => {
            let number = value.parse::<f64>().ok().filter(|number| number.is_finite());
            (result, Some(number.ok_or_else(|| format!("the reading `{value}` is not a number"))?))
        }
        None => (said, None),
    };
    let result = result.parse::<ItemResult>().map_err(|error| error.to_string())?;
    let (item, part) = match item.split_once('@') {
        Some((_, "")) => {
            return Err(format!("`{text}` names no part behind the @, as in N25-02@SV08-B002=fail"));
        }
        Some((item, part)) => (item, Some(part.to_owned())),
        None => (item, None),
    };
    Ok(Item { item: item.to_owned(), part, result, value })
}

impl Item {
    fn json(&self) -> Value {
        let mut fields = Map::new();
        fields.insert("item".to_owned(), json!(self.item));
        fields.insert("result".to_owned(), json!(self.result));
        if let Some(part) = &self.part {
            fields.insert("component".to_owned(), json!(part));
        }
        if let Some(value) = self.value {
            fields.insert("value".to_owned(), json!(value));
        }
        Value::Object(fields)
    }
}

/// Records it.
pub fn run(args: &Args, session: &mut Session<'_, '_>) -> Result<Reply, Failure> {
    let at = args.when.moment(&session.client)?;
    let subject = Subject::find(session, &args.subject)?;
    let (field, name) = match &subject {
        Subject::Model(name) => ("model", name),
        Subject::Component(name) => ("component", name),
    };
    let items: Vec<Value> = args.items.iter().map(Item::json).collect();
    let draft = Draft::new(session)
        .with(field, name.as_str())
        .with("group", args.group.as_str())
        .with("occurred_at", json!(at))
        .with("result", json!(args.result))
        .with("is_summary", items.is_empty())
        .with("items", items)
        .maybe("programme", args.programme.clone())
        .maybe("inspected_by", args.by.clone())
        .maybe("tag", args.tag.clone())
        .maybe("note", args.note.clone());
    let what = format!("{} on {}, {}", args.group, name, args.result);
    let mut reply = record(session, Noun::Inspections, draft, &what)?;
    let has_failed = args.items.iter().any(|item| item.result == ItemResult::Fail);
    match (args.result, &subject) {
        (result, Subject::Model(model)) if result == CheckResult::Fail || has_failed => {
            reply.hint(format!("`preen defect {model} ground \"what is wrong\"` says what was found."));
        }
        (_, Subject::Model(model)) => {
            reply.hint(format!("`preen may-fly {model}` says where it stands now."));
        }
        (_, Subject::Component(_)) => {}
    }
    Ok(reply)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn items_are_read_with_and_without_a_reading() {
        let item = parse_item("SW-06=fail:0.2").unwrap();
        assert_eq!(
            item,
            Item { item: "SW-06".to_owned(), part: None, result: ItemResult::Fail, value: Some(0.2) }
        );
        assert_eq!(parse_item("N25-02@SV08-B002=fail").unwrap().part.as_deref(), Some("SV08-B002"));
        assert_eq!(parse_item("N25-02=not_looked_at").unwrap().value, None);
        for bad in ["N25-02", "N25-02=good", "N25-02=pass:NaN", "N25-02@=pass"] {
            assert!(parse_item(bad).is_err(), "{bad}");
        }
    }
}
