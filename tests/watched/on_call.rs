//! What the page for the person on call says is so: every number it names is shown, every command it names is carried out.

use std::process::Command;

use clap::Parser as _;
use preen_api::config::Cli;
use preen_tests::Database;
use preen_tests::exposition::Numbers;
use preen_tests::process::Process;

use crate::process::{Records, begin_club};

fn page() -> String {
    let text = std::fs::read_to_string(concat!(env!("CARGO_MANIFEST_DIR"), "/../DEVELOPERS.md")).unwrap();
    let page = text.split_once(". On call\n").expect("the page is there").1;
    page.split("\n## ").next().unwrap().to_owned()
}

/// Numbers and commands of the page.
pub fn page_is_so() -> String {
    let page = page();
    let (records, code) = Records::with_club(Database::Sqlite);
    let to = records.folder.join("backups");
    let mut service = Process::start(records.serve(), "");
    begin_club(&mut service, &code);
    let shown = Numbers::of(&service.caller);
    let words = page.split(|c: char| !c.is_ascii_alphanumeric() && c != '_');
    let named: Vec<&str> = words.filter(|word| word.starts_with("preen_")).collect();
    for name in &named {
        let is_line = shown.samples.keys().any(|(line, _)| line == name);
        assert!(is_line || shown.types.contains_key(*name), "{name} is shown by nothing");
    }
    assert!(named.len() > 10, "{named:?}");
    let mut carried_out = 0;
    for line in page.lines().filter(|line| line.starts_with("preen-server ")) {
        let newest = || {
            let mut files: Vec<_> =
                std::fs::read_dir(&to).unwrap().map(|entry| entry.unwrap().path()).collect();
            files.retain(|path| path.extension().is_some_and(|end| end == "zip"));
            files.sort();
            files.last().unwrap().display().to_string()
        };
        let mut text = line.to_owned();
        if text.contains("/var/lib/preen/backups/BACKUP.zip") {
            text = text.replace("/var/lib/preen/backups/BACKUP.zip", &newest());
        }
        let text = text.replace("/var/lib/preen", &records.folder.display().to_string());
        let words: Vec<&str> = text.split_whitespace().collect();
        Cli::try_parse_from(&words).unwrap_or_else(|error| panic!("{line}: {error}"));
        let output = Command::new(std::env::current_exe().unwrap()).args(&words[1..]).output().unwrap();
        let said = String::from_utf8_lossy(&output.stderr).into_owned();
        assert!(output.status.success(), "{line}: {said}");
        carried_out += 1;
    }
    assert!(carried_out >= 5, "{carried_out}");
    for line in page.lines().filter(|line| line.starts_with("curl ")) {
        let path = line.rsplit_once(":8026").unwrap().1;
        service.caller.with_token("").get(path).expect(200);
    }
    format!("{} numbers, {carried_out} commands", named.len())
}
