//! Later than this no plan can begin: by the longest way through the tasks, and by the work that has to find hands.

use std::collections::BTreeSet;

use super::ground::{Ground, Team};

/// The latest working quarter in which any plan could begin.
///
/// Two reasons, of which the harder counts. Each task alone, with only what waits for it, has a latest begin. And from
/// any begin to any later quarter, the people who can do some work must have as many free quarters as that work needs
/// there even if every task begins as late as it could alone. The same for each tool.
pub(super) fn latest_begin(ground: &Ground) -> usize {
    let begins: Vec<usize> = ground.never_after().into_iter().map(Option::unwrap_or_default).collect();
    let by_way = begins.iter().copied().min().unwrap_or_default();
    let everybody: BTreeSet<usize> = (0..ground.classes.len()).collect();
    let mut groups: BTreeSet<BTreeSet<usize>> = everybody.iter().map(|class| [*class].into()).collect();
    groups.insert(everybody);
    for work in &ground.tasks {
        groups.insert(work.teams.iter().flat_map(|team| &team.of).map(|(class, _)| *class).collect());
    }
    let by_people = groups.iter().map(|group| {
        let in_group = |team: &Team| {
            team.of.iter().filter(|(class, _)| group.contains(class)).map(|(_, count)| *count).sum::<u32>()
        };
        let needs: Vec<u32> = ground
            .tasks
            .iter()
            .map(|work| work.teams.iter().map(in_group).min().unwrap_or_default())
            .collect();
        let mut hands = vec![0; ground.at.len()];
        for class in group.iter().filter_map(|class| ground.classes.get(*class)) {
            for (sum, free) in hands.iter_mut().zip(&class.free) {
                *sum += free;
            }
        }
        by_work(ground, &begins, &needs, &hands)
    });
    let by_tools = ground.tools.iter().enumerate().map(|(tool, count)| {
        let takes = |work: &super::ground::Work| u32::from(work.tools.contains(&tool));
        let needs: Vec<u32> = ground.tasks.iter().map(takes).collect();
        by_work(ground, &begins, &needs, &vec![*count; ground.at.len()])
    });
    by_people.chain(by_tools).fold(by_way, usize::min)
}

/// The latest begin from which up to each later quarter there are as many hands as the work needs until there.
fn by_work(ground: &Ground, begins: &[usize], needs: &[u32], hands: &[u32]) -> usize {
    let tasks: Vec<(usize, usize, u64)> = ground
        .tasks
        .iter()
        .zip(begins)
        .zip(needs)
        .filter(|(_, need)| **need > 0)
        .map(|((work, begin), need)| (*begin, work.length, u64::from(*need)))
        .collect();
    // Hands before each working quarter, summed.
    let mut before: Vec<u64> = vec![0];
    for count in hands {
        before.push(before.last().copied().unwrap_or_default() + u64::from(*count));
    }
    let mut latest = ground.at.len();
    for end in 1..=ground.at.len() {
        let needed: u64 = tasks
            .iter()
            .map(|(begin, length, need)| {
                need * u64::try_from(end.saturating_sub(*begin).min(*length)).unwrap_or_default()
            })
            .sum();
        if needed > 0 {
            let until = before.get(end).copied().unwrap_or_default();
            // The last begin with `needed` hands from it to `end`; 0 where even all are too few.
            let enough = before.partition_point(|sum| sum + needed <= until);
            latest = latest.min(enough.saturating_sub(1));
        }
    }
    latest
}
