//! The demo club as it is served after it was loaded through the REST API: all rows, nothing else.

use std::{collections::BTreeMap, path::PathBuf};

use preen_api::{
    config::DemoArgs,
    demo::{self, progress::Progress, rest::Rest, run, throwaway::Throwaway},
};
use preen_domain::facts::Noun;
use serde_json::Value;

const NOW: &str = "2026-05-21T08:00:00Z";

/// A folder of its own, taken away at the end.
struct Folder(PathBuf);

impl Folder {
    fn new(name: &str) -> Self {
        Self(std::env::temp_dir().join(format!("preen-served-{}-{name}", std::process::id())))
    }

    fn args(&self, listen: &str) -> DemoArgs {
        DemoArgs {
            listen: listen.parse().unwrap(),
            data: self.0.clone(),
            from: None,
            now: NOW.parse().unwrap(),
            once: true,
        }
    }
}

impl Drop for Folder {
    fn drop(&mut self) {
        let _ = std::fs::remove_dir_all(&self.0);
    }
}

async fn all_of(rest: &Rest, noun: Noun) -> Vec<Value> {
    let mut items = Vec::new();
    let mut path = format!("{noun}?limit=500");
    loop {
        let page = rest.get(&path).await.unwrap();
        items.extend(page["items"].as_array().unwrap().iter().cloned());
        match page["next"].as_str() {
            Some(cursor) => path = format!("{noun}?limit=500&cursor={cursor}"),
            None => return items,
        }
    }
}

#[test]
fn what_is_served_is_what_the_tables_say() {
    let folder = Folder::new("rows");
    let club = demo::tables::read().unwrap();
    let listen = "127.0.0.1:0".parse().unwrap();
    let served = Throwaway::start(&club, &folder.0.join("club.db"), NOW.parse().unwrap(), listen).unwrap();
    actix_web::rt::System::new().block_on(async {
        let loaded = served.fill(&club, &Progress::new("loading", club.rows.len())).await.unwrap();
        let mut told: BTreeMap<Noun, BTreeMap<String, Value>> = BTreeMap::new();
        for row in &club.rows {
            let fact = serde_json::to_value(&row.fact).unwrap();
            told.entry(row.fact.noun()).or_default().insert(row.fact.id().to_string(), fact);
        }
        for noun in Noun::ALL {
            let mut expected = told.remove(noun).unwrap_or_default();
            for mut item in all_of(&loaded.keeper, *noun).await {
                for stamp in ["recorded_at", "recorded_by", "revision"] {
                    assert!(item.as_object_mut().unwrap().remove(stamp).is_some(), "{stamp} of {item}");
                }
                let id = item["id"].as_str().unwrap().to_owned();
                assert_eq!(expected.remove(&id), Some(item), "one of the {noun}");
            }
            assert_eq!(expected, BTreeMap::new(), "{noun} that are not served");
        }
        assert!(loaded.tokens.usual().is_some_and(|token| Some(token) == loaded.tokens.of("FS")));
    });
    served.end().unwrap();
    assert!(!folder.0.join("club.db").exists(), "a throw-away club leaves nothing");
}

#[test]
fn a_club_of_its_own_tables_is_loaded_and_told_of() {
    let folder = Folder::new("own");
    let tables = folder.0.join("tables");
    std::fs::create_dir_all(&tables).unwrap();
    let files = [
        ("club.csv", "short_name,title,time_zone\nmill-lane,Mill Lane Flyers,Europe/Paris\n"),
        ("members.csv", "tag,name,roles,subscription\nA-1,,pilot;keeper,paid\nB.2,,pilot,\n"),
        (
            "designs.csv",
            "tag,datum,class_use,span_m,wing_area_dm2,tail_area_dm2,mac_mm,mac_leading_edge_x_mm,cg_min_mm,\
             cg_max_mm,nose_weight_x_mm\nKITE,wing root leading edge,,2,40,4,200,0,70,80,\n",
        ),
        ("models.csv", "tag,design,owner,ownership,first_flight_on,note\nK-1,KITE,B.2,member,2026-05-01,\n"),
    ];
    for (file, text) in files {
        std::fs::write(tables.join(file), text).unwrap();
    }
    let args = DemoArgs { from: Some(tables), data: folder.0.join("data"), ..folder.args("127.0.0.1:0") };
    let mut said = Vec::new();
    run::run(&args, &mut said).unwrap();
    let said = String::from_utf8(said).unwrap();
    assert!(said.starts_with("Mill Lane Flyers: 5 facts recorded through the REST API"), "{said}");
    assert!(said.contains("\n  K-1    grounded  no "), "a model never checked does not fly: {said}");
    let env = std::fs::read_to_string(folder.0.join("data/demo.env")).unwrap();
    let names: Vec<&str> =
        env.lines().filter_map(|line| line.split_once('=')).map(|(name, _)| name).collect();
    assert_eq!(
        names,
        [
            "export PREEN_URL",
            "export PREEN_TOKEN",
            "export PREEN_PASSWORD",
            "export PREEN_TOKEN_A_1",
            "export PREEN_TOKEN_B_2"
        ]
    );
    assert!(!folder.0.join("data/demo-trial.db").exists(), "the second club is gone");
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        let mode = std::fs::metadata(folder.0.join("data/demo.env")).unwrap().permissions().mode();
        assert_eq!(mode & 0o777, 0o600, "for its owner's eyes only");
    }
}

#[test]
fn the_demonstration_does_the_main_job() {
    let folder = Folder::new("job");
    let mut said = Vec::new();
    run::run(&folder.args("127.0.0.1:0"), &mut said).unwrap();
    let said = String::from_utf8(said).unwrap();
    let lines = [
        "Quillmarsh Soaring Club: 3345 facts recorded through the REST API",
        "Which models may fly on Saturday 2026-05-23?",
        "\n  SG-01  fit         yes      4 ",
        "\n  SG-02  incomplete  no ",
        "\n  SG-05  fit         yes ",
        "\n  SG-06  restricted  yes ",
        "\n  TS-03  on_loan     no ",
        "-> pass HL (After a hard landing)",
        "QS looks at all 14 items of HL and passes it:\n  SG-05 on 2026-05-23: fit\n",
        "  Refused: ",
        "forbids SV08/B at a flap servo",
        "\n  before  1221.35  98.090 ",
        "\n  after   1221.85  98.075 ",
        "  It opens: SW.",
        "SV08-C004 came into W.C/FS.L at 2026-05-21T07:55:00Z; SW not passed since",
        "\n  MP-02  N25    overdue  1 flight over, 80 days late ",
        "\n  SG-03  RF30   overdue  5 days late ",
        "\n  SG-04  SW     overdue  SV08-C004 ",
    ];
    for line in lines {
        assert!(said.contains(line), "`{line}` is not said in:\n{said}");
    }
}

/// A pipe of which somebody reads some lines and then leaves.
struct Reader {
    lines_left: usize,
}

impl std::io::Write for Reader {
    fn write(&mut self, said: &[u8]) -> std::io::Result<usize> {
        let lines = said.iter().filter(|byte| **byte == b'\n').count();
        let left = self.lines_left.checked_sub(lines).ok_or(std::io::ErrorKind::BrokenPipe)?;
        self.lines_left = left;
        Ok(said.len())
    }

    fn flush(&mut self) -> std::io::Result<()> {
        Ok(())
    }
}

#[test]
fn it_ends_quietly_when_nobody_reads_on() {
    let folder = Folder::new("pipe");
    let tables = folder.0.join("tables");
    std::fs::create_dir_all(&tables).unwrap();
    std::fs::write(tables.join("club.csv"), "short_name,title,time_zone\nmill,Mill,Europe/Paris\n").unwrap();
    std::fs::write(tables.join("members.csv"), "tag,name,roles,subscription\nKD,,keeper,paid\n").unwrap();
    // Without `once` it would serve until it is stopped.
    let args = DemoArgs {
        from: Some(tables),
        data: folder.0.join("data"),
        once: false,
        ..folder.args("127.0.0.1:0")
    };
    let ended = run::run(&args, &mut Reader { lines_left: 2 }).unwrap();
    assert_eq!(format!("{ended:?}"), format!("{:?}", std::process::ExitCode::SUCCESS));
    assert!(!folder.0.join("data/demo-trial.db").exists(), "the second club is gone");
}

#[test]
fn it_listens_on_this_machine_only() {
    let folder = Folder::new("loopback");
    let refused = run::run(&folder.args("0.0.0.0:0"), &mut Vec::new()).unwrap_err().to_string();
    assert!(refused.starts_with("0.0.0.0:0 can be reached from other machines"), "{refused}");
    assert!(!folder.0.exists());
}

#[test]
fn a_taken_address_is_said_before_anything_is_thrown_away() {
    let folder = Folder::new("taken");
    std::fs::create_dir_all(&folder.0).unwrap();
    std::fs::write(folder.0.join("demo.db"), "still in use").unwrap();
    let holder = std::net::TcpListener::bind("127.0.0.1:0").unwrap();
    let taken = holder.local_addr().unwrap().to_string();
    let refused = run::run(&folder.args(&taken), &mut Vec::new()).unwrap_err().to_string();
    assert!(refused.starts_with(&format!("cannot listen on {taken}: ")), "{refused}");
    assert_eq!(std::fs::read_to_string(folder.0.join("demo.db")).unwrap(), "still in use");
}

#[test]
fn wrong_tables_are_named_and_nothing_is_loaded() {
    let folder = Folder::new("tables");
    let tables = folder.0.join("tables");
    std::fs::create_dir_all(&tables).unwrap();
    std::fs::write(tables.join("members.csv"), "tag,name,roles,subscription\nKD,,keeper,paid\nKD,,boss,\n")
        .unwrap();
    std::fs::write(tables.join("club.csv"), "short_name,title,time_zone\nQ,Quill,Europe/London\n").unwrap();
    let args =
        DemoArgs { from: Some(tables.clone()), data: folder.0.join("data"), ..folder.args("127.0.0.1:0") };
    let refused = run::run(&args, &mut Vec::new()).unwrap_err().to_string();
    assert!(refused.contains("members.csv line 3: line 2 has the same tag already: `KD`"), "{refused}");
    assert!(refused.contains("members.csv line 3, column `roles`: `boss` is not one of"), "{refused}");
    std::fs::write(tables.join("members.csv"), "tag,name,roles,subscription\nKD,,keeper,paid\n").unwrap();
    let refused = run::run(&args, &mut Vec::new()).unwrap_err().to_string();
    assert!(refused.starts_with("club.csv: `Q` cannot be a club's short name"), "{refused}");
    assert!(!folder.0.join("data").exists());
}
