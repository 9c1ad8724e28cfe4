//! Records for a service in a process of its own, and how one is started on them.

use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

use preen_api::db::conn::{Place, open};
use preen_api::db::migrate;
use preen_api::resources::setup;
use preen_tests::Database;
use preen_tests::process::Process;
use preen_tests::world::{CLUB, new_id, scratch};
use serde_json::json;

/// Records of a club, in a folder for everything that goes with them.
pub struct Records {
    /// What `--database` says.
    pub database: String,
    /// The folder.
    pub folder: PathBuf,
    /// What `--photos` says.
    pub photos: PathBuf,
    /// What `--listen` says.
    pub listen: String,
}

impl Records {
    /// A database without tables.
    pub fn bare(database: Database) -> Self {
        let folder = scratch("preen-watched");
        let database = match database {
            Database::Sqlite => folder.join("preen.db").display().to_string(),
            Database::Postgres => preen_tests::cluster::new_database(),
        };
        let (photos, listen) = (folder.join("photos"), "127.0.0.1:0".to_owned());
        Self { database, folder, photos, listen }
    }

    /// A club, and the code for its first member.
    pub fn with_club(database: Database) -> (Self, String) {
        let records = Self::bare(database);
        let mut conn = open(&Place::from_url(&records.database)).unwrap();
        migrate::up(&mut conn).unwrap();
        let now = "2025-04-05T06:00:00Z".parse().unwrap();
        let zone = "Europe/London".parse().unwrap();
        let code = setup::store::create_club(&mut conn, CLUB, "A club", zone, now).unwrap();
        (records, code.expect("the club is new"))
    }

    /// Settings of a service on it.
    pub fn serve(&self) -> Command {
        let mut command = Command::new(std::env::current_exe().unwrap());
        command.args(["serve", "--database", &self.database, "--listen", &self.listen]);
        command.arg("--photos").arg(&self.photos).stderr(Stdio::piped());
        command
    }
}

impl Drop for Records {
    fn drop(&mut self) {
        let _ = std::fs::remove_dir_all(&self.folder);
    }
}

/// Begins the club of a service with a first member who may do everything.
pub fn begin_club(service: &mut Process, code: &str) {
    let roles = json!(["pilot", "builder", "stores", "inspector", "keeper"]);
    let member = json!({ "id": new_id(), "tag": "AV", "roles": roles });
    let made =
        service.caller.post("/setup", &json!({ "club": CLUB, "code": code, "member": member })).expect(201);
    service.caller.token = made.json()["token"]["token"].as_str().unwrap().to_owned();
}

/// A file that only its owner reads.
pub fn private_file(path: &Path, text: &str) {
    use std::os::unix::fs::PermissionsExt as _;
    std::fs::write(path, text).unwrap();
    std::fs::set_permissions(path, std::fs::Permissions::from_mode(0o600)).unwrap();
}
