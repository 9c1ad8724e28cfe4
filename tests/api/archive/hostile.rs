//! Archives that broke off, were changed, or were made to do harm: each is refused with its reason, and nothing is taken in.

use std::fs::File;
use std::io::{Read as _, Write as _};
use std::path::{Path, PathBuf};

use preen_api::audit::rebuild::Until;
use preen_api::commands::taken_in::take_in;
use preen_api::exchange::archive::limits::Limits;
use preen_api::exchange::archive::read::Archive;
use preen_api::resources::setup::store::list_clubs;
use preen_tests::world::{flight, new_id};
use preen_tests::{Database, World};
use zip::write::SimpleFileOptions;
use zip::{ZipArchive, ZipWriter};

fn club() -> (World, PathBuf) {
    let world = World::begin(Database::Sqlite);
    world.small_fleet();
    for hour in 8..12 {
        world.add("flights", flight("SG-01", "AV", &format!("2026-05-20T{hour:02}:00:00Z")));
    }
    let archive = world.export();
    (world, archive)
}

/// The same archive with some files otherwise, packed as it should be, and with further files.
fn repack(
    archive: &Path,
    change: impl Fn(&str, Vec<u8>) -> Option<Vec<u8>>,
    more: &[(&str, Vec<u8>)],
) -> PathBuf {
    let mut zip = ZipArchive::new(File::open(archive).unwrap()).unwrap();
    let path = archive.with_file_name(format!("{}.zip", new_id()));
    let mut out = ZipWriter::new(File::create(&path).unwrap());
    for index in 0..zip.len() {
        let mut file = zip.by_index(index).unwrap();
        let name = file.name().unwrap().into_owned();
        let mut bytes = Vec::new();
        file.read_to_end(&mut bytes).unwrap();
        let Some(bytes) = change(&name, bytes) else { continue };
        out.start_file(&name, SimpleFileOptions::default()).unwrap();
        out.write_all(&bytes).unwrap();
    }
    for (name, bytes) in more {
        out.start_file(*name, SimpleFileOptions::default()).unwrap();
        out.write_all(bytes).unwrap();
    }
    out.finish().unwrap();
    path
}

fn as_it_is(_: &str, bytes: Vec<u8>) -> Option<Vec<u8>> {
    Some(bytes)
}

/// Takes an archive in, which must be refused, and leaves nothing.
fn refused(world: &World, archive: &Path) -> String {
    let other = World::nothing(Database::Sqlite);
    let error = take_in(archive, &other.place, &other.photos, Until::Newest, world.clock.now()).unwrap_err();
    assert_eq!(list_clubs(&mut other.conn()).unwrap(), Vec::<String>::new(), "{error}");
    error.to_string()
}

/// Reads all of an archive within limits; what is said of it.
fn read(archive: &Path, limits: Limits) -> Result<usize, String> {
    let open = Archive::open(archive, limits).map_err(|error| error.to_string())?;
    let steps = open.each_step(|steps| {
        let mut count = 0;
        for step in steps {
            count += step?.entries.len();
        }
        Ok::<_, preen_api::exchange::archive::limits::BadArchive>(count)
    });
    steps.and_then(|count| count).map_err(|error| error.to_string())
}

#[test]
fn one_that_broke_off_is_refused_wherever_it_did() {
    let (world, archive) = club();
    let whole = std::fs::read(&archive).unwrap();
    for part in [0, 1, 20, whole.len() / 4, whole.len() / 2, whole.len() - 100, whole.len() - 1] {
        let path = archive.with_file_name("part.zip");
        std::fs::write(&path, &whole[..part]).unwrap();
        let said = refused(&world, &path);
        assert!(said.contains("the archive is damaged"), "{part}: {said}");
    }
}

#[test]
fn a_changed_byte_is_told_by_the_file_and_a_changed_fact_by_the_trail() {
    let (world, archive) = club();
    let whole = std::fs::read(&archive).unwrap();
    let mut told = 0;
    for at in (60..whole.len() / 2).step_by(whole.len() / 40) {
        let mut changed = whole.clone();
        changed[at] ^= 0x20;
        let path = archive.with_file_name("changed.zip");
        std::fs::write(&path, changed).unwrap();
        told += usize::from(read(&path, Limits::default()).is_err());
    }
    assert!(told >= 10, "{told} of 20 changed bytes were seen while reading");
    // Whoever packs it anew makes the file whole, not the record.
    let change_in = |name: &'static str, from: &'static str, to: &'static str| {
        repack(
            &archive,
            move |of, bytes| {
                let text = String::from_utf8_lossy(&bytes).into_owned();
                if of != name {
                    return Some(bytes);
                }
                assert!(text.contains(from), "{name} has no {from}");
                Some(text.replacen(from, to, 1).into_bytes())
            },
            &[],
        )
    };
    let said = refused(&world, &change_in("facts.ndjson", "\"airtime_min\":6.5", "\"airtime_min\":6.4"));
    assert!(said.contains("flights") && said.contains("the stored fact is not what was recorded"), "{said}");
    let said =
        refused(&world, &change_in("trail.ndjson", "\\\"airtime_min\\\":6.5", "\\\"airtime_min\\\":6.4"));
    assert!(said.contains("the kept payload is not what was recorded"), "{said}");
    let said =
        refused(&world, &change_in("trail.ndjson", "\"act\":\"begin_club\"", "\"act\":\"begun_club\""));
    assert!(said.contains("revision 1 entry 0") && said.contains("the entry was changed"), "{said}");
    // The club's short name is in every hash.
    let said = refused(&world, &change_in("club.json", "\"quillmarsh\"", "\"quillmoor\""));
    assert!(said.contains("its hash does not fit"), "{said}");
    let without_last = repack(
        &archive,
        |name, bytes| {
            let text = String::from_utf8_lossy(&bytes).into_owned();
            let is_listed = ["facts.ndjson", "trail.ndjson"].contains(&name);
            let cut = text.trim_end().rfind('\n').filter(|_| is_listed);
            Some(cut.map_or(bytes, |end| text.as_bytes()[..=end].to_vec()))
        },
        &[],
    );
    let said = refused(&world, &without_last);
    assert!(said.contains("the trail ends at"), "{said}");
    let erased = repack(
        &archive,
        |name, bytes| {
            let text = String::from_utf8_lossy(&bytes).into_owned();
            if name != "trail.ndjson" {
                return Some(bytes);
            }
            let lines: Vec<String> = text
                .lines()
                .map(|line| match line.split_once(",\"made_of\"") {
                    Some((entry, _)) if line.contains("\"noun\":\"flights\"") => format!("{entry}}}"),
                    _ => line.to_owned(),
                })
                .collect();
            Some((lines.join("\n") + "\n").into_bytes())
        },
        &[],
    );
    let said = refused(&world, &erased);
    assert!(said.contains("its payload was taken out, and no erasure is on record"), "{said}");
}

#[test]
fn a_name_that_leads_elsewhere_or_stands_twice_is_refused() {
    let (world, archive) = club();
    for name in
        ["../preen.db", "/etc/preen", "photos/../../x", "csv\\x.csv", "deep/a/b/c", "club.json/x", "x/"]
    {
        let said = refused(&world, &repack(&archive, as_it_is, &[(name, b"x".to_vec())]));
        assert!(said.contains("which no archive of a club does"), "{name}: {said}");
    }
    let two = repack(
        &archive,
        |name, bytes| (name != "csv/slugs.csv").then_some(bytes),
        &[("csv/slugs.csv", b"id\n".to_vec()), ("csv/slugz.csv", b"id\n".to_vec())],
    );
    let mut bytes = std::fs::read(&two).unwrap();
    for at in 0..bytes.len() - 13 {
        if &bytes[at..at + 13] == b"csv/slugz.csv" {
            bytes[at..at + 13].copy_from_slice(b"csv/slugs.csv");
        }
    }
    std::fs::write(&two, bytes).unwrap();
    let said = refused(&world, &two);
    assert!(said.contains("two things by one name"), "{said}");
}

#[test]
fn what_is_no_archive_or_of_a_newer_format_is_told_so() {
    let (world, archive) = club();
    let text = archive.with_file_name("text.zip");
    std::fs::write(&text, "not packed at all").unwrap();
    assert!(refused(&world, &text).contains("the archive is damaged"));
    let bare = repack(&archive, |name, bytes| (name != "club.json").then_some(bytes), &[]);
    assert!(refused(&world, &bare).contains("club.json is missing"));
    let bare = repack(&archive, |name, bytes| (name != "trail.ndjson").then_some(bytes), &[]);
    assert!(refused(&world, &bare).contains("a part of it is missing"));
    let newer = repack(
        &archive,
        |name, bytes| {
            let text =
                String::from_utf8_lossy(&bytes).replace("\"format_number\": 1", "\"format_number\": 9");
            Some(if name == "club.json" { text.into_bytes() } else { bytes })
        },
        &[],
    );
    assert!(refused(&world, &newer).contains("format 9"), "{}", refused(&world, &newer));
}

#[test]
fn every_limit_holds_and_is_named() {
    let (_world, archive) = club();
    let usual = Limits::default();
    assert!(read(&archive, usual).unwrap() > 8);
    let bomb = repack(
        &archive,
        as_it_is,
        &[("photos/e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855.jpg", vec![0; 8 << 20])],
    );
    let long_line = repack(
        &archive,
        |name, bytes| Some(if name == "facts.ndjson" { vec![b'x'; 300_000] } else { bytes }),
        &[],
    );
    let cases: [(&Path, Limits, &str); 8] = [
        (&bomb, usual, "times longer than it is packed"),
        (&archive, Limits { packed_bytes: 1_000, ..usual }, "and at most 1000 are read"),
        (&archive, Limits { entries: 5, ..usual }, "things are in it, and at most 5 are read"),
        (&archive, Limits { entry_bytes: 200, ..usual }, "and at most 200 are read"),
        (&archive, Limits { all_bytes: 5_000, ..usual }, "all together it has"),
        (
            &long_line,
            Limits { line_bytes: 100_000, ..usual },
            "line 1 of facts.ndjson has more than 100000 bytes",
        ),
        (&archive, Limits { step_lines: 1, ..usual }, "has more than 1 entries"),
        (&long_line, usual, "facts.ndjson line 1:"),
    ];
    for (path, limits, wanted) in cases {
        let said = read(path, limits).unwrap_err();
        assert!(said.contains(wanted), "{wanted}: {said}");
    }
    // An archive that lies about its sizes: what is unpacked is counted.
    let mut bytes = std::fs::read(&long_line).unwrap();
    let size = 300_000_u32.to_le_bytes();
    for at in 0..bytes.len() - 4 {
        if bytes[at..at + 4] == size {
            bytes[at..at + 4].copy_from_slice(&7_u32.to_le_bytes());
        }
    }
    let lying = archive.with_file_name("lying.zip");
    std::fs::write(&lying, bytes).unwrap();
    assert!(read(&lying, usual).is_err());
}
