//! Encryption: of what the service sends and of what it sends to its database, and where it is asked for.

use std::os::unix::fs::PermissionsExt as _;
use std::path::{Path, PathBuf};

use diesel::connection::SimpleConnection;
use preen_api::db::conn::{Db, Place, open};
use preen_api::photos::place::PhotoPlace;
use preen_api::server::{Config, Running, StartError, start_shielded};
use preen_api::state::Clock;
use preen_api::tls::{Shield, TlsError, TlsFiles};
use preen_tests::cluster;
use preen_tests::world::{lines, scratch};

/// A certificate for this machine that vouches for itself, and its key.
fn certificate(folder: &Path) -> TlsFiles {
    let made =
        rcgen::generate_simple_self_signed(vec!["localhost".to_owned(), "127.0.0.1".to_owned()]).unwrap();
    let files = TlsFiles { cert: folder.join("cert.pem"), key: folder.join("key.pem") };
    std::fs::write(&files.cert, made.cert.pem()).unwrap();
    std::fs::write(&files.key, made.signing_key.serialize_pem()).unwrap();
    std::fs::set_permissions(&files.key, std::fs::Permissions::from_mode(0o600)).unwrap();
    files
}

fn serve(place: Place, photos: &Path, shield: &Shield) -> Result<Running, StartError> {
    let config = Config {
        place,
        listen: "127.0.0.1:0".parse().unwrap(),
        clock: Clock::System,
        photos: Some(PhotoPlace::Folder(photos.to_owned())),
        workers: Some(1),
        replica: None,
    };
    start_shielded(&config, shield)
}

fn ask(url: &str, trusted: Option<&Path>) -> Result<u16, reqwest::Error> {
    let mut client = reqwest::blocking::Client::builder().no_proxy().https_only(url.starts_with("https"));
    if let Some(path) = trusted {
        let cert = reqwest::Certificate::from_pem(&std::fs::read(path).unwrap()).unwrap();
        client = client.tls_certs_only([cert]);
    }
    client.build().unwrap().get(format!("{url}/health/ready")).send().map(|reply| reply.status().as_u16())
}

#[test]
fn the_service_encrypts_with_its_own_certificate() {
    let folder = scratch("preen-tls");
    let tls = certificate(&folder);
    let cert = tls.cert.clone();
    let shield = Shield { tls: Some(tls), is_behind_proxy: false };
    let running = serve(Place::File(folder.join("preen.db")), &folder.join("photos"), &shield).unwrap();
    assert!(running.url().starts_with("https://127.0.0.1:"));
    assert_eq!(ask(&running.url(), Some(&cert)).unwrap(), 200);
    // Whoever does not trust the certificate sends nothing, and without encryption nothing is answered.
    assert!(ask(&running.url(), None).is_err());
    assert!(ask(&running.url().replace("https:", "http:"), None).is_err());
    assert!(running.state.reach.is_encrypted, "cookies are marked for encrypted connections only");
    drop(running);
    std::fs::remove_dir_all(folder).unwrap();
}

#[test]
fn beyond_this_machine_something_must_encrypt() {
    let tls = TlsFiles { cert: PathBuf::from("cert.pem"), key: PathBuf::from("key.pem") };
    let bare = Shield::default();
    let own = Shield { tls: Some(tls), is_behind_proxy: false };
    let proxy = Shield { tls: None, is_behind_proxy: true };
    for outside in ["0.0.0.0:8026", "192.0.2.7:8026", "[::]:8026"] {
        let outside = outside.parse().unwrap();
        let refused = bare.check(outside).unwrap_err();
        assert!(matches!(refused, TlsError::Open(address) if address == outside));
        assert!(refused.to_string().contains("--tls-cert"), "{refused}");
        own.check(outside).unwrap();
        proxy.check(outside).unwrap();
    }
    for inside in ["127.0.0.1:8026", "[::1]:8026"] {
        bare.check(inside.parse().unwrap()).unwrap();
    }
}

#[test]
fn unusable_certificates_are_named() {
    let folder = scratch("preen-tls-bad");
    let good = certificate(&folder);
    let other = folder.join("other");
    std::fs::create_dir(&other).unwrap();
    let stranger = certificate(&other);
    let empty = folder.join("empty.pem");
    std::fs::write(&empty, "").unwrap();
    let start = |cert: &Path, key: &Path| {
        let tls = Some(TlsFiles { cert: cert.to_owned(), key: key.to_owned() });
        match serve(
            Place::File(folder.join("preen.db")),
            &folder.join("photos"),
            &Shield { tls, is_behind_proxy: false },
        ) {
            Ok(_) => panic!("it started"),
            Err(error) => error.to_string(),
        }
    };
    let missing = folder.join("missing.pem");
    assert!(start(&missing, &good.key).contains("missing.pem"));
    assert!(start(&good.cert, &missing).contains("hold a private key"));
    assert!(start(&empty, &good.key).contains("there is no certificate in it"));
    assert!(start(&good.cert, &good.cert).contains("hold a private key"));
    assert!(start(&good.cert, &stranger.key).contains("cannot be used together"));
    std::fs::remove_dir_all(folder).unwrap();
}

/// How a connection is encrypted, as the server sees it.
fn protocol(conn: &mut Db) -> String {
    let query = "SELECT COALESCE(version, 'none') AS line FROM pg_stat_ssl WHERE pid = pg_backend_pid()";
    lines(conn, query).remove(0)
}

#[test]
fn the_way_to_the_database_is_encrypted_as_its_url_says() {
    let folder = scratch("preen-pg-tls");
    let tls = certificate(&folder);
    let base = cluster::with_tls(&tls.cert, &tls.key);
    let url = |mode: &str| format!("{base}&sslmode={mode}");
    assert!(protocol(&mut open(&Place::from_url(&url("require"))).unwrap()).starts_with("TLSv1."));
    assert_eq!(protocol(&mut open(&Place::from_url(&url("disable"))).unwrap()), "none");
    // The server proves who it is only to those who ask.
    let full =
        |cert: &Path| Place::from_url(&format!("{}&sslrootcert={}", url("verify-full"), cert.display()));
    assert!(protocol(&mut open(&full(&tls.cert)).unwrap()).starts_with("TLSv1."));
    let other = folder.join("other");
    std::fs::create_dir(&other).unwrap();
    assert!(open(&full(&certificate(&other).cert)).is_err());
    // The whole service runs on it.
    let running = serve(full(&tls.cert), &folder.join("photos"), &Shield::default()).unwrap();
    assert_eq!(ask(&running.url(), None).unwrap(), 200);
    drop(running);
    // A server that no longer encrypts is not spoken to.
    let mut admin = open(&Place::from_url(&url("disable"))).unwrap();
    admin.batch_execute("ALTER SYSTEM SET ssl = off").unwrap();
    admin.batch_execute("SELECT pg_reload_conf()").unwrap();
    let is_refused = (0..2000).any(|_| open(&Place::from_url(&url("require"))).is_err());
    assert!(is_refused);
    std::fs::remove_dir_all(folder).unwrap();
}
