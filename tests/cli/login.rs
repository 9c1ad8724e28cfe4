//! Getting access: tokens and passwords that nobody else sees, and taking access back.

use std::os::unix::fs::PermissionsExt;
use std::path::PathBuf;

use preen_tests::world::{CLUB, new_id};
use preen_tests::{Database, World};
use serde_json::{Value, json};

use crate::demo::Demo;
use crate::preen::{Preen, Said};
use crate::responder::Responder;

const GOOD: &str = "three old oars";
const BETTER: &str = "four new rudders";

/// A home of its own, gone with the test.
struct Home {
    folder: PathBuf,
    preen: Preen,
}

impl Home {
    fn new() -> Self {
        let folder = preen_tests::world::scratch("preen-login");
        let preen = Preen::default().env("XDG_CONFIG_HOME", folder.to_str().unwrap());
        Self { folder, preen }
    }

    fn file(&self) -> PathBuf {
        self.folder.join("preen").join("access.json")
    }

    fn stored(&self) -> Value {
        serde_json::from_str(&std::fs::read_to_string(self.file()).unwrap()).unwrap()
    }

    fn at_terminal(&self, lines: &[&str]) -> Preen {
        self.preen.clone().terminal(100).types(lines)
    }
}

impl Drop for Home {
    fn drop(&mut self) {
        let _ = std::fs::remove_dir_all(&self.folder);
    }
}

#[track_caller]
fn never_shown(said: &Said, secret: &str) {
    assert!(!format!("{}{}", said.stdout, said.stderr).contains(secret), "{}{}", said.stdout, said.stderr);
}

fn set_password(world: &World, member: &str, password: &str) {
    world
        .av
        .put(&format!("/members/{member}/password"), None, &json!({ "new_password": password }))
        .expect(200);
}

#[test]
fn login_tries_and_stores_access_for_its_owner_alone() {
    let demo = Demo::shared();
    let folder = std::env::temp_dir().join(format!("preen-login-{}", uuid::Uuid::now_v7().simple()));
    let home = Preen::default().env("XDG_CONFIG_HOME", folder.to_str().unwrap());
    home.clone().input("wrong\n").run(&format!("login {}", demo.url())).code(4).talks("Nothing was stored.");
    assert!(!folder.exists());
    let token = format!("{}\n", demo.token("FS"));
    home.clone()
        .input(&token)
        .run(&format!("login {}/", demo.url()))
        .code(0)
        .shows("as FS (")
        .shows("readable by you alone");
    let file: PathBuf = folder.join("preen").join("access.json");
    let mode = |path: &PathBuf| std::fs::metadata(path).unwrap().permissions().mode() & 0o777;
    assert_eq!((mode(&file), mode(&folder.join("preen"))), (0o600, 0o700));
    home.run("may-fly TS-01").code(0);

    // Stored access is for that address only; the environment comes first.
    let other = Responder::http("404 Not Found", "Content-Type: text/plain\r\n", "");
    home.clone().env("PREEN_URL", other.url()).run("due").code(5);
    let heads = other.heads();
    assert!(heads.len() == 1 && !heads[0].to_lowercase().contains("authorization"), "{heads:?}");
    home.clone().env("PREEN_TOKEN", "nonsense").run("due").code(4);

    // A file that others can read is used, and said.
    std::fs::set_permissions(&file, std::fs::Permissions::from_mode(0o644)).unwrap();
    home.run("may-fly TS-01").code(0).talks("note: ").talks("can be read by others");
    std::fs::write(&file, "{").unwrap();
    home.run("may-fly TS-01").code(3).talks("is not an access file");

    // Nobody is asked where nobody may be, and the token never echoes in what is printed.
    let at_terminal = home.clone().terminal(100);
    at_terminal.run(&format!("login {} --no-input", demo.url())).code(3).talks("No token was given.");
    let said = at_terminal
        .types(&[token.trim()])
        .run(&format!("login {}", demo.url()))
        .code(0)
        .talks("Token for http");
    assert!(!format!("{}{}", said.stdout, said.stderr).contains(token.trim()));
    std::fs::remove_dir_all(&folder).unwrap();
}

#[test]
fn a_token_comes_from_a_file_or_from_the_input() {
    let world = World::begin(Database::Sqlite);
    let (home, url, token) = (Home::new(), world.url(), world.av.token.clone());
    let file = home.folder.join("token");
    std::fs::write(&file, format!("{token}\nwhat comes after it is not read\n")).unwrap();
    let by_file = format!("login {url} --token-file {}", file.display());
    let ways = [
        (home.preen.clone(), by_file.clone()),
        (home.preen.clone().input(&format!("{token}\n")), format!("login {url} --token-stdin")),
        (home.preen.clone().input(&token), format!("login {url} --token-file -")),
        (home.preen.clone().input(&format!("  {token}\r\n")), format!("login {url}")),
        (home.preen.clone().env("PREEN_TOKEN", &token), format!("login {url} --json")),
        // Before the environment comes what was asked for.
        (home.preen.clone().env("PREEN_TOKEN", "nonsense"), by_file),
    ];
    for (preen, line) in ways {
        let said = preen.run(&line).code(0).shows("AV");
        never_shown(&said, &token);
        assert_eq!(home.stored()["token"], token.as_str(), "{line}");
        std::fs::remove_file(home.file()).unwrap();
    }
    std::fs::write(&file, "").unwrap();
    home.preen
        .run(&format!("login {url} --token-file {}", file.display()))
        .code(3)
        .talks("The token is empty.");
    home.preen
        .run(&format!("login {url} --token-file {}/none", file.display()))
        .code(3)
        .talks("cannot be read");
    // Typed in the wrong place it is refused, and not shown again.
    let said = home.preen.run(&format!("login {token}")).code(3).talks("where other programs could see it");
    never_shown(&said, &token);
    assert!(!home.file().exists());
}

#[test]
fn a_password_makes_a_token_for_this_machine() {
    let world = World::begin(Database::Sqlite);
    set_password(&world, "AV", GOOD);
    let (home, url) = (Home::new(), world.url());
    let line = format!("login {url} --member AV --club {CLUB}");
    let said = home.at_terminal(&["three old ores"]).run(&line).code(4);
    never_shown(&said, "three old ores");
    home.at_terminal(&[GOOD]).run(&format!("login {url} --member AV")).code(3).talks("--club");
    home.at_terminal(&[GOOD]).run(&format!("{line} --no-input")).code(3).talks("A password is needed.");
    assert!(!home.file().exists());

    let before = world.av.get("/tokens").json()["items"].as_array().unwrap().len();
    let said = home
        .at_terminal(&[GOOD])
        .env("HOSTNAME", "workbench")
        .run(&format!("{line} --days 30"))
        .code(0)
        .talks("Password of AV at ")
        .shows("the token may read, write.")
        .shows("The token ends on 2026-06-20");
    let (stored, mode) = (home.stored(), std::fs::metadata(home.file()).unwrap().permissions().mode());
    let token = stored["token"].as_str().unwrap();
    assert_eq!(mode & 0o777, 0o600);
    never_shown(&said, token);
    never_shown(&said, GOOD);
    assert!(!stored.to_string().contains(GOOD));
    let tokens = world.av.get("/tokens").json()["items"].as_array().unwrap().clone();
    assert_eq!(tokens.len(), before + 1);
    let made = tokens.iter().find(|made| made["id"] == stored["token_id"]).unwrap();
    assert_eq!(made["label"], "command line on workbench");
    assert_eq!(made["scopes"], json!(["read", "write"]));
    home.preen.run("parts add tag=SV08 kind=servo tracking=serial nominal_mass_g=10.4").code(0);

    // The club is known from now on, and nothing of the old access is needed.
    home.at_terminal(&[GOOD])
        .run(&format!("login {url} --member AV --scopes read"))
        .code(0)
        .shows("the token may read.");
    home.at_terminal(&[GOOD])
        .run(&format!("login {url} --member AV --scopes history"))
        .code(3)
        .talks("history");
    home.preen.run("parts add tag=SV09 kind=servo tracking=serial nominal_mass_g=10.4").code(4);
}

#[test]
fn a_one_time_password_is_exchanged_for_a_new_one() {
    let world = World::begin(Database::Sqlite);
    world.av.post("/members", &json!({ "id": new_id(), "tag": "BK", "roles": ["pilot"] })).expect(201);
    let (home, url) = (Home::new(), world.url());
    let line = format!("login {url} --member BK --club {CLUB}");
    set_password(&world, "BK", GOOD);
    home.at_terminal(&[GOOD, BETTER, "four new"]).run(&line).code(3).talks("The two were not the same");
    home.at_terminal(&[GOOD]).run(&line).code(4);
    set_password(&world, "BK", GOOD);
    let said = home
        .at_terminal(&[GOOD, BETTER, BETTER])
        .run(&line)
        .code(0)
        .talks("New password: ")
        .shows("The new password counts from now on.");
    for secret in [GOOD, BETTER] {
        never_shown(&said, secret);
    }
    // A program has its lines in the input.
    set_password(&world, "BK", GOOD);
    home.preen.clone().input(&format!("{GOOD}\n")).run(&line).code(3).talks("second line of the input");
    set_password(&world, "BK", GOOD);
    home.preen.clone().input(&format!("{GOOD}\n{BETTER}\n")).run(&line).code(0);
    home.preen.clone().input(&format!("{BETTER}\n")).run(&line).code(0).shows("as BK (pilot)");
}

#[test]
fn access_is_forgotten_and_taken_back() {
    let world = World::begin(Database::Sqlite);
    set_password(&world, "AV", GOOD);
    let (home, url) = (Home::new(), world.url());
    home.preen.run("login --forget").code(3).talks("nothing to forget");
    home.at_terminal(&[GOOD]).run(&format!("login {url} --member AV --club {CLUB}")).code(0);
    let token = home.stored()["token"].as_str().unwrap().to_owned();
    let by_token = world.av.with_token(&token);
    by_token.get("/parts").expect(200);
    home.preen.run("login https://elsewhere.example --forget").code(3).talks("not for that address");
    let said = home.preen.run("login --forget").code(0).shows("was taken back");
    never_shown(&said, &token);
    by_token.get("/parts").problem(401, "token_revoked");
    assert!(!home.file().exists());
    // One that was made elsewhere is only forgotten, and that is said.
    home.preen.clone().input(&world.av.token).run(&format!("login {url}")).code(0);
    home.preen.run("login --forget").code(0).talks("The token itself was not taken back");
    world.av.get("/parts").expect(200);
    assert!(!home.file().exists());
    // While the service does not answer, nothing is forgotten.
    home.at_terminal(&[GOOD]).run(&format!("login {url} --member AV --club {CLUB}")).code(0);
    drop(world);
    home.preen.run("login --forget").code(5).talks("Nothing was forgotten");
    assert!(home.file().exists());
}
