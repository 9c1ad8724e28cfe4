//! How answers are printed: for people at a terminal and in a pipe, as JSON and as CSV.

use crate::demo::Demo;
use crate::preen::Preen;

fn preen() -> Preen {
    Demo::shared().preen("FS")
}

#[test]
fn colour_is_for_terminals_and_no_color_takes_it_away() {
    let line = "may-fly --on 2026-05-23";
    let plain = preen().run(line).stdout;
    assert!(!plain.contains('\u{1b}'));
    let wide = preen().terminal(1000);
    let coloured = wide.run(line).stdout;
    assert!(coloured.contains("\u{1b}[31m") && coloured.contains("\u{1b}[32m"), "{coloured}");
    assert_eq!(strip(&coloured), plain, "colour says nothing that the words do not say");
    for value in ["1", ""] {
        assert_eq!(wide.clone().env("NO_COLOR", value).run(line).stdout, plain);
    }
    let failure = wide.run("may-fly SG-1").code(3).stderr;
    assert!(failure.starts_with("\u{1b}[31;1merror"), "{failure}");
    assert!(!wide.env("NO_COLOR", "1").run("may-fly SG-1").stderr.contains('\u{1b}'));
}

fn strip(text: &str) -> String {
    let mut plain = String::new();
    let mut is_in_code = false;
    for c in text.chars() {
        match c {
            '\u{1b}' => is_in_code = true,
            'm' if is_in_code => is_in_code = false,
            _ if is_in_code => {}
            _ => plain.push(c),
        }
    }
    plain
}

#[test]
fn a_narrow_terminal_folds_the_last_column() {
    let text = strip(&preen().terminal(100).run("may-fly --on 2026-05-23").stdout);
    assert!(text.lines().all(|line| line.chars().count() <= 100), "{text}");
    let pipe = preen().run("may-fly --on 2026-05-23").stdout;
    assert!(pipe.lines().any(|line| line.chars().count() > 100), "a pipe gets whole lines");
}

#[test]
fn json_is_what_the_service_sent() {
    let sent = reqwest::blocking::Client::builder()
        .no_proxy()
        .build()
        .unwrap()
        .get(format!("{}/api/v1/due?on=2026-05-23", Demo::shared().url()))
        .bearer_auth(Demo::shared().token("FS"))
        .send()
        .unwrap()
        .text()
        .unwrap();
    let printed = preen().run("due --on 2026-05-23 --json").code(2).stdout;
    let squeeze = |text: &str| text.split_whitespace().collect::<String>();
    assert_eq!(squeeze(&printed), squeeze(&sent), "digit by digit and key by key");
    assert!(printed.starts_with("{\n  \"revision\": "), "{}", &printed[..80]);
}

#[test]
fn csv_has_one_line_a_row_and_keeps_the_exit_code() {
    let said = preen().run("due --on 2026-05-23 --csv").code(2);
    let mut lines = said.stdout.lines();
    assert_eq!(
        lines.next().unwrap(),
        "model,subject,group,state,counter,now_at_count,due_at_count,count_left,count_over,tolerance_count,done_on,\
         due_on,days_left,days_over,tolerance_days,forecast_on,forecast_from,forecast_to"
    );
    assert!(lines.all(|line| line.split(',').count() == 18), "{}", said.stdout);
    assert!(said.stdout.contains("MP-02,MP-02,N25,overdue,flights,121,120,0,1,2,"), "{}", said.stdout);
    preen().run("may-fly --on 2026-05-23 --csv").code(2).shows("SG-01,true,fit,4,4,");
}

#[test]
fn what_is_due_is_listed_for_cron() {
    preen().run("due --on 2026-05-23").is_as_expected("due_for_saturday");
    let quiet = preen().run("due --model TS-01").code(0);
    assert!(quiet.stdout.contains("Nothing is due;"), "{}", quiet.stdout);
    assert_eq!(quiet.stderr, "", "nothing is said where nothing is to be done");
}

#[test]
fn progress_is_for_terminals_only() {
    assert!(!preen().run("flights list --all").stderr.contains("flights …"));
    assert!(preen().terminal(200).run("flights list --all").stderr.contains("500 flights …"));
}
