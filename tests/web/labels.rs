//! Labels: a photo of one, and one held before the camera, open what they are on.

use std::path::{Path, PathBuf};

use image::{GrayImage, Luma};
use preen_tests::browser::Browser;
use serde_json::json;

use crate::club::{DemoClub, Profile};

/// A label on a desk, seen by a camera: each dot of its code so many pixels.
fn seen(text: &str, dot_px: u32) -> GrayImage {
    let code = qrcode::QrCode::new(text).unwrap();
    let (dots, count) = (code.to_colors(), u32::try_from(code.width()).unwrap());
    let (left, top) = (150, 70);
    GrayImage::from_fn(640, 480, |x, y| {
        let is_paper = (left - 30..left + count * dot_px + 30).contains(&x)
            && (top - 30..top + count * dot_px + 30).contains(&y);
        let is_code = (left..left + count * dot_px).contains(&x) && (top..top + count * dot_px).contains(&y);
        let is_dark = is_code
            && dots[usize::try_from((y - top) / dot_px * count + (x - left) / dot_px).unwrap()]
                == qrcode::Color::Dark;
        Luma([if is_dark {
            30
        } else if is_paper {
            225
        } else {
            130
        }])
    })
}

/// A film of it, as the browser takes one for a camera.
fn film(folder: &Path, picture: &GrayImage) -> PathBuf {
    let mut bytes = b"YUV4MPEG2 W640 H480 F10:1 Ip A1:1 C420jpeg\n".to_vec();
    for _ in 0..5 {
        bytes.extend_from_slice(b"FRAME\n");
        bytes.extend_from_slice(picture.as_raw());
        bytes.extend(std::iter::repeat_n(128_u8, 640 * 480 / 2));
    }
    let path = folder.join("label.y4m");
    std::fs::write(&path, bytes).unwrap();
    path
}

pub fn on_a_photo(club: &DemoClub) {
    let profile = Profile::new();
    let browser = profile.browser();
    browser.tell("Emulation.setScriptExecutionDisabled", &json!({ "value": true }));
    club.sign_in(&browser, "AV", "/field");
    let photos =
        || club.world.av.get("/photos?limit=500").expect(200).json()["items"].as_array().unwrap().len();
    let (known, revision) = (photos(), club.revision());
    for (text, path) in
        [("SG-03", "/field/SG-03"), ("https://club.example/components/SV08-B011", "/field/part/SV08-B011")]
    {
        let file = profile.0.join("label.png");
        seen(text, 8).save(&file).unwrap();
        browser.open(&club.at("/field"));
        browser.fill(".label-photo [name=photo]", file.to_str().unwrap());
        browser.click(".label-photo button");
        browser.until(&format!("location.pathname === {path:?}"));
    }
    let empty = profile.0.join("desk.png");
    GrayImage::from_pixel(640, 480, Luma([130])).save(&empty).unwrap();
    browser.open(&club.at("/field"));
    browser.fill(".label-photo [name=photo]", empty.to_str().unwrap());
    browser.click(".label-photo button");
    browser.until("document.body.innerText.includes('No code can be read')");
    assert_eq!((photos(), club.revision()), (known, revision));
}

pub fn before_the_camera(club: &DemoClub) {
    let profile = Profile::new();
    let film = film(&profile.0, &seen("https://club.example/components/SV08-B011", 8));
    let browser = Browser::start_before(&profile.0, &film);
    club.sign_in(&browser, "AV", "/field");
    club.open_field(&browser, "/field");
    let has_own = browser.run("return 'BarcodeDetector' in window");
    println!("the browser reads codes by itself: {has_own}");
    browser.click("button.camera");
    browser.until("location.pathname === '/field/part/SV08-B011'");
    // One that reads codes by itself is asked first, and sends nothing.
    club.open_field(&browser, "/field");
    browser.requests();
    browser.run(
        "window.BarcodeDetector = class { static async getSupportedFormats() { return ['qr_code']; }
             async detect(video) { return video.videoWidth === 640 ? [{ rawValue: 'sg-03' }] : []; } };",
    );
    browser.click("button.camera");
    browser.until("location.pathname === '/field/SG-03'");
    assert!(!browser.requests().iter().any(|url| url.ends_with("/field/label")));
    // Without signal it is said what to do.
    club.open_field(&browser, "/field");
    club.link.cut();
    browser.run("delete window.BarcodeDetector");
    browser.click("button.camera");
    browser.until("document.getElementById('camera').innerText.includes('Without signal')");
    club.link.mend();
    assert!(browser.complaints().iter().all(|one| one.contains("net::")), "{:?}", browser.complaints());
}
