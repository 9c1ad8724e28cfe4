//! What stands ready for those who run the service: units, settings and the container file say what the program knows.

use std::path::PathBuf;
use std::process::Command;

use clap::{CommandFactory as _, Parser as _};
use preen_api::config::Cli;

use crate::files::{File, read, top};

fn packaging() -> Vec<File> {
    read(|path| path.starts_with("api/packaging/"))
}

fn file(name: &str) -> String {
    let found = packaging().into_iter().find(|file| file.path == format!("api/packaging/{name}"));
    found.unwrap_or_else(|| panic!("no {name}")).text
}

fn units() -> Vec<File> {
    packaging().into_iter().filter(|file| file.path.ends_with(".service")).collect()
}

/// Names of settings in the environment that the program reads.
fn settings() -> Vec<String> {
    let command = Cli::command();
    let all = std::iter::once(&command).chain(command.get_subcommands());
    let names = all.flat_map(clap::Command::get_arguments).filter_map(clap::Arg::get_env);
    names.map(|name| name.to_str().unwrap().to_owned()).collect()
}

/// Words that look like a setting of the program.
fn named(text: &str) -> Vec<&str> {
    let words = text.split(|c: char| !c.is_ascii_uppercase() && c != '_');
    words.filter(|word| word.starts_with("PREEN_")).collect()
}

#[test]
fn units_say_what_the_program_knows() {
    let units = units();
    assert!(!units.is_empty());
    for unit in units {
        let starts = unit.text.lines().filter_map(|line| line.strip_prefix("ExecStart="));
        let starts: Vec<&str> = starts.collect();
        assert_eq!(starts.len(), 1, "{}", unit.path);
        let words = starts[0].strip_prefix("/usr/local/bin/preen-server").unwrap();
        let words = std::iter::once("preen-server").chain(words.split_whitespace());
        Cli::try_parse_from(words).unwrap_or_else(|error| panic!("{}: {error}", unit.path));
    }
}

#[test]
fn settings_that_are_named_are_read() {
    let known = settings();
    assert!(known.len() > 4, "{known:?}");
    for file in packaging() {
        for name in named(&file.text) {
            assert!(known.iter().any(|known| known == name), "{}: {name} is read by nothing", file.path);
        }
    }
    assert_eq!(named("Environment=PREEN_DATABASE=/x PREEN_NOTHING=1"), ["PREEN_DATABASE", "PREEN_NOTHING"]);
}

/// The units in a folder of their own, with a program in them that is there.
fn installed() -> PathBuf {
    let folder = preen_tests::world::scratch("preen-units");
    for unit in packaging()
        .into_iter()
        .filter(|file| [".service", ".timer"].iter().any(|end| file.path.ends_with(end)))
    {
        let name = unit.path.rsplit('/').next().unwrap();
        let text = unit.text.replace("/usr/local/bin/preen-server", "/usr/bin/true");
        std::fs::write(folder.join(name), text).unwrap();
    }
    folder
}

/// By the machine's own checker, where it has one: nothing to complain of, and little that the service could reach.
#[test]
fn units_are_sound_and_shut() {
    let folder = installed();
    let names: Vec<PathBuf> =
        std::fs::read_dir(&folder).unwrap().map(|entry| entry.unwrap().path()).collect();
    let Ok(said) = Command::new("systemd-analyze").args(["verify", "--man=no"]).args(&names).output() else {
        println!("there is no systemd-analyze here");
        return;
    };
    let told = String::from_utf8_lossy(&said.stderr).into_owned();
    let ours = told.lines().filter(|line| line.contains("preen"));
    assert_eq!(ours.collect::<Vec<_>>(), Vec::<&str>::new(), "{told}");
    for name in names.iter().filter(|name| name.extension().is_some_and(|end| end == "service")) {
        // From 0, nothing to reach, to 100.
        let shut = Command::new("systemd-analyze")
            .args(["security", "--offline=true", "--no-pager", "--threshold=20"])
            .arg(name)
            .output()
            .unwrap();
        assert!(shut.status.success(), "{}", String::from_utf8_lossy(&shut.stdout));
    }
    std::fs::remove_dir_all(&folder).unwrap();
}

#[test]
fn the_container_file_takes_what_is_there_and_runs_as_nobody_much() {
    let text = file("Containerfile");
    let lines: Vec<&str> = text.lines().collect();
    for line in &lines {
        if let Some(image) = line.strip_prefix("FROM ") {
            let image = image.split(' ').next().unwrap();
            assert!(!image.contains('/') && image.contains(':'), "{image}: a plain name with its version");
        }
        if let Some(copied) = line.strip_prefix("COPY ").filter(|rest| !rest.starts_with("--from")) {
            let words: Vec<&str> = copied.split_whitespace().collect();
            for path in &words[..words.len() - 1] {
                assert!(top().join(path).exists(), "{path} is not there");
            }
        }
    }
    let user = lines.iter().rfind(|line| line.starts_with("USER ")).expect("it says who runs it");
    assert!(user[5..].parse::<u32>().is_ok_and(|id| id > 0), "{user}");
    let members = std::fs::read_to_string(top().join("Cargo.toml")).unwrap();
    let members = members.lines().find(|line| line.starts_with("members")).unwrap();
    for folder in ["api", "cli", "tests"] {
        assert!(members.contains(folder) && text.contains(&format!("COPY {folder} {folder}")), "{folder}");
    }
    Cli::try_parse_from(["preen-server", "serve"]).unwrap();
}
