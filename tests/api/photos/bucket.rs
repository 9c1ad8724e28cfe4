//! Pictures in a bucket: a small server on this machine that takes and gives objects as S3 does, and says no to whoever
//! does not sign.

use std::collections::BTreeMap;
use std::io::{BufRead, BufReader, Read, Write};
use std::net::{TcpListener, TcpStream};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex};

use preen_api::photos::place::PhotoPlace;
use preen_api::server::{Config, StartError, start};
use preen_api::state::Clock;
use preen_tests::{Database, World};
use serde_json::json;

use super::pictures::{jpeg, two_halves};
use super::{BLUE, RED, record, send, wait_until};

/// What is kept, by path.
type Objects = Arc<Mutex<BTreeMap<String, Vec<u8>>>>;

struct Bucket {
    endpoint: String,
    objects: Objects,
    is_down: Arc<AtomicBool>,
}

impl Bucket {
    fn open() -> Self {
        let listener = TcpListener::bind("127.0.0.1:0").unwrap();
        let endpoint = format!("http://{}", listener.local_addr().unwrap());
        let (objects, is_down) = (Objects::default(), Arc::new(AtomicBool::new(false)));
        let (kept, down) = (Arc::clone(&objects), Arc::clone(&is_down));
        std::thread::spawn(move || {
            for stream in listener.incoming().flatten() {
                let (kept, down) = (Arc::clone(&kept), Arc::clone(&down));
                std::thread::spawn(move || serve(stream, &kept, &down));
            }
        });
        Self { endpoint, objects, is_down }
    }

    fn place(&self) -> PhotoPlace {
        let settings = [
            ("AWS_ENDPOINT", self.endpoint.as_str()),
            ("AWS_ALLOW_HTTP", "true"),
            ("AWS_REGION", "fen-1"),
            ("AWS_ACCESS_KEY_ID", "reed"),
            ("AWS_SECRET_ACCESS_KEY", "not much of one"),
            ("AWS_PAGER", "less"),
        ];
        let settings = settings.map(|(name, value)| (name.to_owned(), value.to_owned())).to_vec();
        PhotoPlace::from_setting("s3://shed/preen/photos", settings).unwrap()
    }
}

/// Answers one connection until it ends.
fn serve(stream: TcpStream, objects: &Objects, is_down: &AtomicBool) {
    let mut reader = BufReader::new(stream.try_clone().unwrap());
    let mut writer = stream;
    loop {
        let mut head = String::new();
        while !head.ends_with("\r\n\r\n") {
            if reader.read_line(&mut head).unwrap_or(0) == 0 {
                return;
            }
        }
        let small = head.to_ascii_lowercase();
        let header = |name: &str| {
            small.lines().find_map(|line| line.strip_prefix(name)?.strip_prefix(": ").map(str::to_owned))
        };
        let length = header("content-length").map_or(0, |length| length.parse().unwrap());
        let mut body = vec![0; length];
        reader.read_exact(&mut body).unwrap();
        let mut words = head.split(' ');
        let (method, path) = (words.next().unwrap(), words.next().unwrap().to_owned());
        let is_signed = header("authorization").is_some_and(|text| text.starts_with("aws4-hmac-sha256"));
        let mut objects = objects.lock().unwrap();
        let (status, content) = match method {
            _ if is_down.load(Ordering::SeqCst) => ("503 Slow Down", Vec::new()),
            _ if !is_signed => ("403 Forbidden", Vec::new()),
            "PUT" => {
                objects.insert(path, body);
                ("200 OK", Vec::new())
            }
            "DELETE" => {
                objects.remove(&path);
                ("204 No Content", Vec::new())
            }
            "GET" | "HEAD" => {
                objects.get(&path).map_or(("404 Not Found", Vec::new()), |kept| ("200 OK", kept.clone()))
            }
            _ => ("405 Method Not Allowed", Vec::new()),
        };
        let head = format!(
            "HTTP/1.1 {status}\r\nContent-Length: {}\r\nETag: \"1\"\r\nLast-Modified: Thu, 21 May 2026 08:00:00 GMT\r\n\r\n",
            content.len()
        );
        if writer
            .write_all(head.as_bytes())
            .and_then(|()| writer.write_all(if method == "HEAD" { &[] } else { &content }))
            .is_err()
        {
            return;
        }
    }
}

fn check_bucket(database: Database) {
    let bucket = Bucket::open();
    let mut world = World::begin_with_photos(database, Some(bucket.place()));
    world.small_fleet();
    let file = jpeg(&two_halves(800, 500, RED, BLUE));
    let id = record(&world, &file, json!({ "model": "SG-01" }));
    let sha256 = world.av.get(&format!("/photos/{id}")).json()["sha256"].as_str().unwrap().to_owned();
    let path = |end: &str| format!("/shed/preen/photos/quillmarsh/{}/{sha256}{end}.jpg", &sha256[..2]);
    for (part, end) in [("image", ""), ("thumbnail", "-thumbnail")] {
        let shown = world.av.get(&format!("/photos/{id}/{part}")).expect(200).bytes;
        assert_eq!(bucket.objects.lock().unwrap().get(&path(end)), Some(&shown), "{part}");
    }
    world.restart();
    world.av.get(&format!("/photos/{id}/image")).expect(200);

    // While the bucket does not answer, nothing is promised, and nothing else suffers.
    bucket.is_down.store(true, Ordering::SeqCst);
    let other = jpeg(&two_halves(30, 20, BLUE, RED));
    let refused = send(&world.av, &other);
    refused.problem(503, "busy");
    assert_eq!(refused.header("retry-after"), Some("1"));
    world.av.get(&format!("/photos/{id}/thumbnail")).problem(503, "busy");
    world.av.get("/models/SG-01").expect(200);
    bucket.is_down.store(false, Ordering::SeqCst);
    send(&world.av, &other).expect(201);
    // A day later the one that no photo names is thrown away there, too.
    let kept = || bucket.objects.lock().unwrap().len();
    let before = kept();
    world.set_clock("2026-05-22T09:00:00Z");
    world.restart();
    wait_until(|| kept() == before - 2);
    // What the bucket sends is not believed: another file, a page, something far too long.
    let whole = bucket.objects.lock().unwrap().get(&path("")).unwrap().clone();
    let odd = [b"<html>an error page</html>".to_vec(), other, vec![0xFF; 12 << 20], Vec::new()];
    for garbage in odd {
        bucket.objects.lock().unwrap().insert(path(""), garbage);
        world.av.get(&format!("/photos/{id}/image")).problem(500, "internal");
    }
    bucket.objects.lock().unwrap().insert(path(""), whole);
    world.av.get(&format!("/photos/{id}/image")).expect(200);
    // What was lost there is told as lost, not as never recorded.
    bucket.objects.lock().unwrap().remove(&path(""));
    world.av.get(&format!("/photos/{id}/image")).problem(500, "internal");
}

#[test]
fn pictures_are_kept_in_a_bucket_on_sqlite() {
    check_bucket(Database::Sqlite);
}

#[test]
fn pictures_are_kept_in_a_bucket_on_postgres() {
    check_bucket(Database::Postgres);
}

/// Why a service does not start with its pictures in a place.
fn refusal(world: &World, photos: Option<PhotoPlace>) -> String {
    let config = Config {
        place: world.place.clone(),
        listen: "127.0.0.1:0".parse().unwrap(),
        clock: Clock::System,
        photos,
        workers: Some(1),
        replica: None,
    };
    match start(&config) {
        Err(refused @ StartError::Photos(_)) => refused.to_string(),
        Err(other) => panic!("{other}"),
        Ok(_) => panic!("it started"),
    }
}

#[test]
fn a_place_that_cannot_be_used_is_named_at_the_start() {
    let world = World::begin(Database::Postgres);
    let text = refusal(&world, None);
    assert!(text.contains("--photos"), "{text}");
    let bucket = Bucket::open();
    bucket.is_down.store(true, Ordering::SeqCst);
    let text = refusal(&world, Some(bucket.place()));
    assert!(text.contains("s3://shed/preen/photos") && text.contains("PREEN_PHOTOS"), "{text}");
    let file = preen_tests::world::scratch("preen-photos").join("file");
    std::fs::write(&file, "not a folder").unwrap();
    let text = refusal(&world, Some(PhotoPlace::Folder(file.clone())));
    assert!(text.contains(&file.display().to_string()), "{text}");
}
