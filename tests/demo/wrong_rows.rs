//! Tables that are wrong: every wrong row is named by file, line, column and reason, all of them at once.

use std::{fs, path::PathBuf};

use preen_api::{
    demo,
    exchange::tables::{Source, read_club},
};

/// A copy of the demo's tables in a folder of its own, taken away at the end.
struct Folder(PathBuf);

impl Folder {
    fn new(name: &str) -> Self {
        let path = std::env::temp_dir().join(format!("preen-tables-{}-{name}", std::process::id()));
        fs::create_dir_all(&path).unwrap();
        for source in demo::tables::sources() {
            fs::write(path.join(&source.file), source.text).unwrap();
        }
        Self(path)
    }

    /// Puts another text in the place of the only one like it.
    fn replace(&self, file: &str, old: &str, new: &str) {
        let path = self.0.join(file);
        let text = fs::read_to_string(&path).unwrap();
        assert_eq!(text.matches(old).count(), 1, "`{old}` stands once in {file}");
        fs::write(path, text.replacen(old, new, 1)).unwrap();
    }

    fn read(&self) -> Vec<String> {
        let read = Source::of_folder(&self.0).and_then(|sources| read_club(&sources));
        read.err().map(|faults| faults.iter().map(ToString::to_string).collect()).unwrap_or_default()
    }
}

impl Drop for Folder {
    fn drop(&mut self) {
        fs::remove_dir_all(&self.0).unwrap();
    }
}

#[test]
fn a_copy_of_the_demo_reads() {
    assert_eq!(Folder::new("copy").read(), Vec::<String>::new());
}

#[test]
fn each_kind_of_wrong_row_is_named() {
    // File, what stands there, what is put there, what is said.
    let cases = [
        (
            "members.csv",
            "tag,name,roles",
            "tag,nickname,roles",
            &[
                "members.csv line 1: column `name` is missing",
                "members.csv line 1: column `nickname` is unknown",
            ][..],
        ),
        (
            "members.csv",
            "tag,name,roles,subscription",
            "tag,roles,name,subscription",
            &[
                "members.csv line 1: the columns must stand once each, in this order: tag,name,roles,subscription",
            ],
        ),
        (
            "members.csv",
            "AV,,pilot;inspector,paid",
            "AV,,pilot;boss,paid",
            &[
                "members.csv line 2, column `roles`: `boss` is not one of: visitor, helper, pilot, builder, stores, team_manager, inspector, safety_officer, keeper",
            ],
        ),
        (
            "members.csv",
            "BK,,pilot;builder,paid",
            "BK,,pilot;builder,paid,extra",
            &["members.csv line 3: has 5 cells, the header has 4"],
        ),
        (
            "members.csv",
            "CM,,pilot,paid",
            "CM,,,paid",
            &["members.csv line 4, column `roles`: must not be empty"],
        ),
        (
            "members.csv",
            "DR,,pilot,paid",
            "DR,,pilot;,paid",
            &["members.csv line 5, column `roles`: has an empty place in its list"],
        ),
        (
            "members.csv",
            "EL,,pilot,paid",
            "EL,Ella\u{7},pilot,paid",
            &[
                "members.csv line 6, column `name`: holds '\\u{7}': only line breaks and tabs may stand in a text",
            ],
        ),
        (
            "models.csv",
            "SG-02,SEDGEWING-39,AV,",
            "SG-02,SEDGEWING-93,AV,",
            &["models.csv line 3, column `design`: there is no `SEDGEWING-93` in designs.csv"],
        ),
        (
            "models.csv",
            "MP-02,MARLPIT-30,GN,member,2025-02-22",
            "MP-02,MARLPIT-30,GN,member,2025-02-30",
            &[
                "models.csv line 9, column `first_flight_on`: `2025-02-30` is no day: write it as in 2026-05-23",
            ],
        ),
        (
            "components.csv",
            "PK-SP-04,PK1S600,P26,,,16.4,",
            "PK-SP-04,PK1S600,P26,,,-16.4,",
            &["components.csv line 199, column `mass_g`: `-16.4` must not be negative"],
        ),
        (
            "components.csv",
            "SV08-B002,SV08,B,,,10.49,",
            "SV08-B002,SV08,B,,,10.49 g,",
            &["components.csv line 3, column `mass_g`: `10.49 g` is no number: write it as in -12.5"],
        ),
        (
            "components.csv",
            "MO-SP-01,MG22,",
            "RX-SP-01,MG22,",
            &["components.csv line 198: line 197 has the same tag already: `RX-SP-01`"],
        ),
        (
            "flights.csv",
            "FL00001,MP-02,GN,2025-04-05T09:30:00Z",
            "FL00001,MP-02,GN,2025-04-05T09:30:00",
            &[
                "flights.csv line 2, column `occurred_at`: `2025-04-05T09:30:00` has no time zone: write `Z` or an offset behind it, as in 2026-05-23T14:00:00Z",
            ],
        ),
        (
            "flights.csv",
            "FL02049,SG-04,CM,2026-05-17T12:07:00Z,1,",
            "FL02049,SG-04,CM,2026-05-17T12:07:00Z,0,",
            &["flights.csv line 2050, column `launches`: `0` must be 1 or more"],
        ),
        (
            "flights.csv",
            "FL02049,SG-04,CM,2026-05-17T12:07:00Z,1,11.0,",
            "FL02049,SG-04,CM,2026-05-17T12:07:00Z,1,NaN,",
            &["flights.csv line 2050, column `airtime_min`: `NaN` is no number: write it as in -12.5"],
        ),
        (
            "flights.csv",
            "14,yes,hard,no",
            "14,yes,hard,N",
            &["flights.csv line 2050, column `is_post_flight_logged`: `N` is not one of: yes, no"],
        ),
        (
            "installations.csv",
            "SV08-C003,,PN-C-05,FS.R",
            "SV08-C003,SG-05,PN-C-05,FS.R",
            &["installations.csv line 188: exactly one of inside_model, inside_component must be filled"],
        ),
        (
            "removals.csv",
            "PK-TS-02,2025-04-05T06:00:00Z,",
            "PK-TS-02,2025-04-05T07:00:00Z,",
            &[
                "removals.csv line 10, column `fitted_at`: there is no `PK-TS-02|2025-04-05T07:00:00Z` in installations.csv",
            ],
        ),
        (
            "measurements.csv",
            "servo_free_play,1.3,deg,",
            "servo_free_play,1.3,mm,",
            &[
                "measurements.csv line 22, column `unit`: `servo_free_play` is in deg (programme_limits.csv line 19), not in mm",
            ],
        ),
        (
            "measurements.csv",
            "5.6;5.7;5.8,mOhm",
            "5.6;5.7;,mOhm",
            &["measurements.csv line 64, column `values`: has an empty place in its list"],
        ),
        (
            "defects.csv",
            "max_launches_per_charge,1,,",
            ",1,,",
            &["defects.csv line 12: missing field `kind`"],
        ),
        (
            "defects.csv",
            "\"servo cover edge lifting 6 mm, taped\"",
            "\"servo cover edge lifting 6 mm, taped",
            &["defects.csv line 14: has a quotation mark that is never closed"],
        ),
        (
            "defects.csv",
            "\"servo cover edge lifting 6 mm, taped\"",
            "\"servo cover edge lifting 6 mm\" taped",
            &["defects.csv line 14: has something behind a closing quotation mark"],
        ),
        (
            "repairs.csv",
            "JN-SG-01-L;JN-SG-01-R",
            "JN-SG-01-L;JN-SG-99-R",
            &["repairs.csv line 2, column `components`: there is no `JN-SG-99-R` in components.csv"],
        ),
        (
            "positions.csv",
            "TOSSEL-15,RS,",
            "TOSSEL-16,RS,",
            &["positions.csv line 38: there is no `TOSSEL-16` in designs.csv"],
        ),
        (
            "club.csv",
            "Europe/London",
            "Europe/Quillmarsh",
            &[
                "club.csv line 2, column `time_zone`: `Europe/Quillmarsh` is no time zone: write it as in Europe/London",
            ],
        ),
        (
            "weighings.csv",
            "SG-01,2026-03-28T06:00:00Z,no ballast",
            "SG-01,2026-03-28T06:00:00Z, no ballast",
            &["weighings.csv line 2, column `configuration`: begins or ends with a blank"],
        ),
    ];
    for (number, (file, old, new, expected)) in cases.into_iter().enumerate() {
        let folder = Folder::new(&format!("case-{number}"));
        folder.replace(file, old, new);
        assert_eq!(folder.read(), expected, "{file}: `{old}` -> `{new}`");
    }
}

#[test]
fn all_wrong_rows_are_named_at_once() {
    let folder = Folder::new("many");
    folder.replace("members.csv", "AV,,pilot;inspector,paid", "AV,,pilot;boss,paid");
    folder.replace("flights.csv", "14,yes,hard,no", "14,yes,harsh,no");
    folder.replace("loans.csv", "2026-05-09,2026-05-31", "2026-05-09,soon");
    folder.replace("riggings.csv", "RI00001,MP-02,", "RI00001,MP-22,");
    let named: Vec<String> = folder
        .read()
        .iter()
        .filter_map(|said| said.split_once(", col"))
        .map(|(place, _)| place.to_owned())
        .collect();
    assert_eq!(
        named,
        ["flights.csv line 2050", "loans.csv line 2", "members.csv line 2", "riggings.csv line 2"]
    );
}

#[test]
fn a_club_without_a_keeper_is_refused() {
    let folder = Folder::new("keeper");
    folder.replace("members.csv", "KD,,stores;keeper,paid", "KD,,stores,paid");
    assert_eq!(folder.read(), ["members.csv: nobody is keeper: one member must have that role"]);
}

#[test]
fn unknown_and_missing_files_are_named() {
    let folder = Folder::new("files");
    fs::write(folder.0.join("fligths.csv"), "tag\n").unwrap();
    assert!(folder.read()[0].starts_with("fligths.csv: no such table; there are club.csv, members.csv, "));
    fs::remove_file(folder.0.join("fligths.csv")).unwrap();
    fs::remove_file(folder.0.join("club.csv")).unwrap();
    assert_eq!(folder.read(), ["club.csv: the file is missing"]);
    fs::write(folder.0.join("club.csv"), b"short_name,title,time_zone\nq,\xff,Europe/London\n").unwrap();
    assert_eq!(folder.read(), ["club.csv line 2: holds a byte that is no UTF-8: save the file as UTF-8"]);
}
