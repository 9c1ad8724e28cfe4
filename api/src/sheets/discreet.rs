//! Leaving people out: a sheet that goes to a stranger names no member but the one it may name.
//!
//! Codes and names of members stand in sentences of the record ("lent to BK"). Here they become "a member".

use preen_domain::fleet::Fleet;
use preen_domain::ids::MemberId;

use super::sheet::{Block, Cell, Sheet, Special};
use crate::told::replaced_alone;

/// What stands instead.
const SOMEBODY: &str = "a member";

/// Every code and name of a member that is not to be printed, the longest first.
fn hidden(fleet: &Fleet, shown: Option<MemberId>) -> Vec<String> {
    let mut hidden: Vec<String> = fleet
        .members()
        .filter(|(id, _)| Some(*id) != shown)
        .flat_map(|(_, member)| {
            let fact = &member.fact;
            [Some(fact.tag.to_string()), fact.name.as_ref().map(ToString::to_string)]
        })
        .flatten()
        .collect();
    hidden.sort_by_key(|word| std::cmp::Reverse(word.len()));
    hidden
}

/// Takes the members out of everything a sheet says.
pub fn leave_out_members(sheet: &mut Sheet, fleet: &Fleet, shown: Option<MemberId>) {
    let hidden = hidden(fleet, shown);
    let clean = |text: &mut String| {
        for word in &hidden {
            if text.contains(word.as_str()) {
                *text = replaced_alone(text, word, SOMEBODY);
            }
        }
    };
    for block in &mut sheet.blocks {
        match block {
            Block::Heading { text } | Block::Text { text } | Block::Caution { text, .. } => clean(text),
            Block::Facts { rows, .. } => rows.iter_mut().for_each(|(_, value)| clean(value)),
            Block::Table { rows, .. } => {
                for cell in rows.iter_mut().flatten() {
                    match cell {
                        Cell::Plain(text) | Cell::Special(Special::Strong { text }) => clean(text),
                        Cell::Special(Special::Tick | Special::Room) => {}
                    }
                }
            }
            Block::Lines { .. } => {}
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn without(text: &str, word: &str) -> String {
        replaced_alone(text, word, SOMEBODY)
    }

    #[test]
    fn a_member_is_left_out_where_the_code_stands_by_itself() {
        assert_eq!(without("lent to BK, due back", "BK"), "lent to a member, due back");
        assert_eq!(without("by BK.", "BK"), "by a member.");
        assert_eq!(without("BK and BK", "BK"), "a member and a member");
        assert_eq!(without("BK-7, TBK, BK.2, BKBK", "BK"), "BK-7, TBK, BK.2, BKBK");
        assert_eq!(without("Ann Boleyn wrote", "Ann Boleyn"), "a member wrote");
    }
}
