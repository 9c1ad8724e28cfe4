//! Two PostgreSQL servers, of which one follows the other: a primary and its streaming replica, for the test to hold up,
//! cut off, kill and promote.

use std::process::Command;

use diesel::connection::SimpleConnection as _;
use diesel::{Connection as _, PgConnection, RunQueryDsl as _};

use crate::cluster::{Cluster, name_of, program};
use crate::waiting::until;

/// A primary and a replica that streams from it.
pub struct Pair {
    primary: Cluster,
    replica: Cluster,
    follows: String,
}

#[derive(diesel::QueryableByName)]
struct Setting {
    #[diesel(sql_type = diesel::sql_types::Text)]
    value: String,
}

impl Pair {
    /// Starts both. Where they are in step the primary acknowledges a commit once the replica has written it, too.
    pub fn start(is_in_step: bool) -> Self {
        let primary = Cluster::start(None, 16);
        let (folder, owner) = Cluster::folder();
        let copy = format!(
            "{}{} -d 'host={} user={} application_name=spare' -D {} -R -X stream -c fast --no-sync",
            Cluster::as_user(owner),
            program("pg_basebackup").get_program().to_str().unwrap(),
            primary.at().display(),
            primary.user(),
            folder.join("data").display(),
        );
        let made = Command::new("sh").args(["-c", &copy]).current_dir("/").output().unwrap();
        assert!(made.status.success(), "{}", String::from_utf8_lossy(&made.stderr));
        let replica = Cluster::launch(folder, owner, None, "");
        if is_in_step {
            let mut owner = admin(&primary);
            owner.batch_execute("ALTER SYSTEM SET synchronous_standby_names = 'spare'").unwrap();
            owner.batch_execute("SELECT pg_reload_conf()").unwrap();
        }
        let follows = setting(&mut admin(&replica), "primary_conninfo");
        Self { primary, replica, follows }
    }

    /// Makes an empty database and returns a URL that finds whichever server takes changes.
    pub fn new_database(&self) -> String {
        let url = self.primary.make_database("");
        let (first, second) = (self.primary.at().display(), self.replica.at().display());
        let at = format!("host={first}");
        assert!(url.contains(&at), "{url}");
        let both = url.replace(&at, &format!("host={first},{second}")).replace("port=5432", "port=5432,5432");
        format!("{both}&target_session_attrs=read-write")
    }

    /// The same database at the replica.
    pub fn at_replica(&self, url: &str) -> String {
        self.replica.url(name_of(url))
    }

    /// Lets the replica take what comes without showing it, or show it again.
    pub fn hold_up(&self, is_held: bool) {
        let what = if is_held { "pg_wal_replay_pause" } else { "pg_wal_replay_resume" };
        admin(&self.replica).batch_execute(&format!("SELECT {what}()")).unwrap();
    }

    /// Cuts the stream to the replica, or mends it.
    pub fn cut(&self, is_cut: bool) {
        let to = if is_cut { "" } else { &self.follows };
        let mut conn = admin(&self.replica);
        conn.batch_execute(&format!("ALTER SYSTEM SET primary_conninfo = '{}'", to.replace('\'', "''")))
            .unwrap();
        conn.batch_execute("SELECT pg_reload_conf()").unwrap();
        if is_cut {
            let gone = "SELECT count(*)::text AS value FROM pg_stat_wal_receiver WHERE pid IS NOT NULL";
            until("the stream is cut", || ask(&mut conn, gone) == "0");
        }
    }

    /// Ends the primary as a crash would: nobody is told, nothing is written down any more.
    pub fn kill_primary(&self) {
        self.primary.crash();
    }

    /// The same with the replica.
    pub fn kill_replica(&self) {
        self.replica.crash();
    }

    /// Makes the replica the server that takes changes.
    pub fn promote(&self) {
        admin(&self.replica).batch_execute("SELECT pg_promote()").unwrap();
    }
}

fn admin(cluster: &Cluster) -> PgConnection {
    PgConnection::establish(&cluster.url("postgres")).unwrap()
}

fn ask(conn: &mut PgConnection, query: &str) -> String {
    diesel::sql_query(query).get_result::<Setting>(conn).unwrap().value
}

fn setting(conn: &mut PgConnection, name: &str) -> String {
    ask(conn, &format!("SELECT current_setting('{name}') AS value"))
}
