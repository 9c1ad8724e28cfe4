//! The help of every command, as one text; and completions for every shell.

use std::fmt::Write;

use crate::preen::{Preen, is_as_expected};

/// Nouns have the same commands each: one stands for all of them.
const A_NOUN: &str = "flights";

#[test]
fn the_whole_help_is_as_expected() {
    let mut text = String::new();
    write(&mut text, &[]);
    is_as_expected("help", &text);
}

fn write(text: &mut String, path: &[String]) {
    let mut args = path.to_vec();
    args.push("--help".to_owned());
    let said = Preen::default().run_args(&args).code(0);
    assert_eq!(said.stderr, "");
    writeln!(text, "==== preen {}\n{}", path.join(" "), said.stdout).unwrap();
    let mut command = &preen_cli::command();
    for name in path {
        command = command.find_subcommand(name).unwrap();
    }
    for inner in command.get_subcommands() {
        let is_noun = inner.get_name().parse::<preen_domain::facts::Noun>().is_ok();
        let is_other_noun = path.is_empty() && is_noun && inner.get_name() != A_NOUN;
        if !is_other_noun {
            write(text, &[path, &[inner.get_name().to_owned()]].concat());
        }
    }
}

#[test]
fn all_nouns_have_the_same_commands() {
    let command = preen_cli::command();
    let names = |noun: &str| -> Vec<String> {
        let noun = command.find_subcommand(noun).unwrap_or_else(|| panic!("no command for {noun}"));
        noun.get_subcommands().map(|inner| inner.get_name().to_owned()).collect()
    };
    for noun in preen_domain::facts::Noun::ALL {
        let expected: &[&str] = match noun.as_str() {
            "corrections" => &["list", "show", "fields"],
            "questions" => &["settle", "list", "show", "fields"],
            _ => &["list", "show", "add", "correct", "fields"],
        };
        assert_eq!(names(noun.as_str()), expected, "{noun}");
    }
}

#[test]
fn the_environment_and_the_exit_codes_are_documented_in_the_help() {
    let help = Preen::default().run("--help").code(0).stdout;
    for word in ["PREEN_URL", "PREEN_TOKEN", "XDG_CONFIG_HOME", "NO_COLOR", "Exit codes:"] {
        assert_eq!(help.matches(word).count(), 1, "{word}");
    }
    Preen::default().run("--version").code(0).shows(concat!("preen ", env!("CARGO_PKG_VERSION")));
}

#[test]
fn nothing_and_nonsense_are_bad_input() {
    let said = Preen::default().run("").code(3);
    assert_eq!(said.stdout, "");
    said.talks("Usage: preen");
    Preen::default().run("may-fly --jsn").code(3).talks("a similar argument exists: '--json'");
    Preen::default().run("due --json --csv").code(3).talks("cannot be used with");
}

#[test]
fn completions_know_every_command() {
    for shell in ["bash", "zsh", "fish", "elvish", "powershell"] {
        let script = Preen::default().run(&format!("completions {shell}")).code(0).stdout;
        for command in preen_cli::command().get_subcommands() {
            assert!(script.contains(command.get_name()), "{shell} {}", command.get_name());
        }
    }
}

/// Whether the machine's own reader of manual pages finds nothing wrong with one.
fn is_sound(folder: &std::path::Path, name: &str) -> bool {
    let Ok(said) = std::process::Command::new("man")
        .args(["--warnings", "-E", "UTF-8", "-l"])
        .arg(folder.join(name))
        .env("MANROFFSEQ", "")
        .env("MANWIDTH", "100")
        .output()
    else {
        // There is none on this machine.
        return true;
    };
    said.status.success() && said.stderr.is_empty() && said.stdout.len() > 200
}

#[test]
fn manual_pages_know_every_command() {
    let page = Preen::default().run("man").code(0).stdout;
    assert!(page.contains(".TH preen 1"), "{page}");
    for command in preen_cli::command().get_subcommands() {
        assert!(
            page.contains(&format!("preen\\-{}(1)", command.get_name().replace('-', "\\-"))),
            "{}",
            command.get_name()
        );
    }
    let page = Preen::default().run("man flights add").code(0).stdout;
    assert!(page.contains("preen-flights-add") && page.contains("\\-\\-json"), "{page}");
    Preen::default().run("man flights fly").code(3).talks("There is no command `flights fly`");

    let folder = preen_tests::world::scratch("preen-man");
    Preen::default().run(&format!("man --to {}", folder.display())).code(0).shows("The pages are in");
    let count = std::fs::read_dir(&folder).unwrap().count();
    assert!(count > 150, "{count} pages");
    for name in ["preen.1", "preen-may-fly.1", "preen-repair-step.1"] {
        assert!(is_sound(&folder, name), "{name}");
    }
    std::fs::remove_dir_all(&folder).unwrap();
    Preen::default().run("man --to /nowhere/at/all").code(3).talks("cannot be written");
}
