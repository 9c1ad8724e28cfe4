//! Pictures that burst, forms with fields without end, archives of a club made to do harm.

use std::process::{Command, Stdio};

use image::{ColorType, ImageEncoder as _, ImageFormat};
use preen_tests::Reply;
use preen_tests::world::scratch;

use crate::pack::{Packed, blanks, zip};
use crate::target::{AT_ONCE, SLACK, Target};
use crate::wire::Wire;

/// Address space, KiB, within which an archive is refused.
const ROOM_KIB: u64 = 2 << 20;

/// All of them.
pub fn odd() -> String {
    let target = Target::begin();
    pictures(&target);
    forms(&target);
    archives();
    target.end()
}

/// A PNG of one colour, so many pixels wide and high.
fn plain(width: u32, height: u32) -> Vec<u8> {
    let mut file = Vec::new();
    let rows = vec![0; usize::try_from(width * height).unwrap()];
    image::codecs::png::PngEncoder::new(&mut file)
        .write_image(&rows, width, height, ColorType::L8.into())
        .unwrap();
    file
}

/// The same, that says to be larger than it is.
fn boasting(width: u32, height: u32) -> Vec<u8> {
    let mut file = plain(8, 8);
    file[16..20].copy_from_slice(&width.to_be_bytes());
    file[20..24].copy_from_slice(&height.to_be_bytes());
    // The sum of the header, so that it is believed.
    let sum = crc32(&file[12..29]);
    file[29..33].copy_from_slice(&sum.to_be_bytes());
    file
}

fn crc32(bytes: &[u8]) -> u32 {
    !bytes.iter().fold(!0_u32, |sum, byte| {
        (0..8)
            .fold(sum ^ u32::from(*byte), |sum, _| (sum >> 1) ^ (0xEDB8_8320 & (!(sum & 1)).wrapping_add(1)))
    })
}

fn pictures(target: &Target) {
    let send = |bytes: &[u8]| target.caller.post_file("/photos/files", "image/png", bytes);
    send(&plain(6_000, 2_000)).expect(201);
    for (width, height) in [(60_000, 60_000), (u32::MAX, u32::MAX), (0x7fff_ffff, 1), (16_385, 2), (0, 0)] {
        let reply = send(&boasting(width, height));
        assert!(matches!(reply.status, 413 | 415), "{width} × {height}: {} {}", reply.status, reply.text);
    }
    // Said to be large, and not there: nothing is made for it beyond what is allowed.
    send(&boasting(9_000, 5_000)).problem(415, "not_a_picture");
    let mut jpeg = std::io::Cursor::new(Vec::new());
    image::GrayImage::new(64, 64).write_to(&mut jpeg, ImageFormat::Jpeg).unwrap();
    let mut jpeg = jpeg.into_inner();
    let at = jpeg.windows(2).position(|two| two == [0xFF, 0xC0]).unwrap();
    jpeg[at + 5..at + 9].copy_from_slice(&[0xFF; 4]);
    assert!(matches!(send(&jpeg).status, 413 | 415));
    for bytes in [
        &b""[..],
        b"GIF89a\xff\xff\xff\xff",
        b"<svg onload='x()'/>",
        b"RIFF\xff\xff\xff\xffWEBPVP8X",
        b"BM",
        b"%PDF-1.7",
    ] {
        send(bytes).problem(415, "not_a_picture");
    }
    // Many at once: who finds no place is told so.
    let large = plain(800, 600);
    std::thread::scope(|scope| {
        let many: Vec<_> = (0..24).map(|_| scope.spawn(|| send(&large).status)).collect();
        target.is_well();
        for one in many {
            let status = one.join().unwrap();
            assert!(matches!(status, 200 | 201 | 503), "{status}");
        }
    });
    target.is_well();
}

fn forms(target: &Target) {
    let part = |name: &str, more: &str, value: &str| {
        format!("--x\r\nContent-Disposition: form-data; name=\"{name}\"{more}\r\n\r\n{value}\r\n")
    };
    let send = |body: Vec<u8>| {
        let request = target
            .caller
            .request("POST", "/field/defect")
            .header("content-type", "multipart/form-data; boundary=x");
        let url = format!("{}/field/defect", target.caller.base());
        let request = request.build().unwrap();
        let client = reqwest::blocking::Client::builder().no_proxy().build().unwrap();
        client.post(url).headers(request.headers().clone()).body(body).send().unwrap().status().as_u16()
    };
    let picture = String::from_utf8_lossy(&plain(2, 2)).into_owned();
    let cases: [(&str, Vec<u8>); 9] = [
        ("5,000 fields", (0..5_000).map(|at| part(&format!("f{at}"), "", "x")).collect::<String>().into()),
        ("a field of 3 MB", part("note", "", &"x".repeat(3 << 20)).into()),
        ("a name of 1 MB", part(&"n".repeat(1 << 20), "", "x").into()),
        ("1,000 headers of a field", format!("--x\r\n{}\r\nx\r\n", "X-A: b\r\n".repeat(1_000)).into()),
        ("30 pictures", (0..30).map(|at| part("photo", &format!("; filename=\"{at}.png\""), &picture)).collect::<String>().into()),
        ("a file called elsewhere", part("photo", "; filename=\"../../../etc/cron.d/x\"", &picture).into()),
        ("forms in each other", "--x\r\nContent-Disposition: form-data; name=\"a\"\r\nContent-Type: multipart/mixed; boundary=y\r\n\r\n--y\r\n".repeat(500).into()),
        ("no end", part("note", "", "x").into_bytes().into_iter().chain(*b"--x\r\nContent-Dispo").collect()),
        ("no beginning", vec![b'-'; 2 << 20]),
    ];
    for (name, body) in cases {
        let status = send(body);
        assert!((400..500).contains(&status), "{name}: {status}");
        target.is_well();
    }
    // One that has a beginning and never an end.
    let token = &target.caller.token;
    let head = format!(
        "POST /field/defect HTTP/1.1\r\nHost: a\r\nAuthorization: Bearer {token}\r\n\
         Content-Type: multipart/form-data; boundary=x\r\nContent-Length: 99999999\r\n\r\n--x\r\n\
         Content-Disposition: form-data; name=\"note\"\r\n\r\n"
    );
    let mut wire = Wire::to(target.address);
    wire.send(head.as_bytes());
    let sent = (0..1_000).take_while(|_| wire.send(&[b'x'; 64 << 10])).count();
    let heard = wire.hear(AT_ONCE + SLACK);
    // What still comes in is thrown away for a while, so that the sender gets to hear the answer.
    assert!(heard.is_closed, "{sent} pieces were taken, and more is waited for");
    assert!(heard.status().is_none_or(|status| (400..500).contains(&status)), "{}", heard.text());
    let reply = Reply::of(target.caller.request("GET", "/parts"));
    reply.expect(200);
    target.is_well();
}

/// Archives given to `preen-server import`, within bounded memory.
fn archives() {
    let folder = scratch("preen-hostile");
    let archive = |name: &str| folder.join(format!("{name}.zip"));
    let put = |name: &str, parts: &[(&[&str], &Packed)]| std::fs::write(archive(name), zip(parts)).unwrap();
    let head = blanks(b"{}", 0);
    put("burst", &[(&["club.json"], &blanks(b"{", 512))]);
    put(
        "line",
        &[(&["club.json"], &head), (&["facts.ndjson"], &blanks(b"{", 300)), (&["trail.ndjson"], &head)],
    );
    put("nested", &[(&["club.json"], &head), (&["inner.zip"], &head)]);
    put("deep", &[(&["club.json"], &blanks(&[b"[".repeat(500_000), b"]".repeat(500_000)].concat(), 0))]);
    put("lying", &[(&["club.json"], &blanks(b"{", 512).said_to_be(100))]);
    let sheets: Vec<String> = (0..5_000).map(|number| format!("photos/{number:064x}.jpg")).collect();
    let names: Vec<&str> = std::iter::once("club.json").chain(sheets.iter().map(String::as_str)).collect();
    put("overlapping", &[(&names, &blanks(b"{}", 0))]);
    std::fs::write(archive("counted"), b"PK\x05\x06\0\0\0\0\xff\xff\xff\xff\xff\xff\xff\xff\0\0\0\0\0\0")
        .unwrap();
    for name in ["burst", "line", "nested", "deep", "lying", "overlapping", "counted"] {
        let database = folder.join(format!("{name}.db"));
        let done = Command::new("sh")
            .args(["-c", &format!("ulimit -v {ROOM_KIB}; exec \"$0\" \"$@\"")])
            .arg(std::env::current_exe().unwrap())
            .arg("import")
            .arg(archive(name))
            .arg("--database")
            .arg(&database)
            .stdin(Stdio::null())
            .output()
            .unwrap();
        let said =
            String::from_utf8_lossy(&done.stderr).into_owned() + &String::from_utf8_lossy(&done.stdout);
        assert!(done.status.code().is_some_and(|code| code != 0), "{name}: {:?} {said}", done.status);
        assert!(!said.contains("panicked") && !said.contains("memory allocation"), "{name}: {said}");
        assert!(said.contains("archive"), "{name}: {said}");
    }
    std::fs::remove_dir_all(folder).unwrap();
}
