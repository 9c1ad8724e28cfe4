//! Lists that keep little in reserve: there are many of them, most are short, and what they hold is large.

/// Puts an item in its place. A list that is full makes room for an eighth of what it holds, for one item at least.
pub(super) fn put<T>(list: &mut Vec<T>, place: usize, item: T) {
    if list.len() == list.capacity() {
        list.reserve_exact((list.len() / 8).max(1));
    }
    list.insert(place, item);
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn little_is_kept_in_reserve() {
        let mut list = Vec::new();
        for number in (0..1_000_u32).rev() {
            put(&mut list, 0, number);
            assert!(list.capacity() <= list.len() + list.len() / 8 + 1);
        }
        assert!(list.into_iter().eq(0..1_000));
    }
}
