//! The same inputs without guidance, a few hundred at each run, and that the seeds themselves are sensible.

use preen_doors::{calendar, files, labels, tables, try_doors};
use proptest::prelude::*;

/// Each reader, with bytes that change next to nothing.
#[test]
fn every_door_is_tried() {
    for door in [
        tables::try_tables,
        tables::try_bodies,
        files::try_rows,
        files::try_archive,
        calendar::try_calendar,
        labels::try_label,
    ] {
        for start in 0..4_u8 {
            let bytes: Vec<u8> = (0..64).map(|at| at * start).collect();
            door(&mut arbitrary::Unstructured::new(&bytes));
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 300, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn odd_files_break_nothing(bytes in proptest::collection::vec(any::<u8>(), 8..240)) {
        try_doors(&bytes);
    }
}
