//! Photos on the command line: one command sends the picture and records the photo.

use preen_tests::world::scratch;
use serde_json::json;

use crate::demo::Demo;

#[test]
fn a_picture_becomes_a_photo() {
    let demo = Demo::own();
    let fs = demo.preen("FS");
    let folder = scratch("preen-photo");
    let file = folder.join("dent.png");
    image::RgbImage::new(40, 30).save(&file).unwrap();
    let file = file.display();
    fs.run(&format!("photo {file} SG-05 --text 'a dent in the nose'"))
        .code(0)
        .shows("Recorded: a photo of SG-05 (photos ");
    let listed = fs.json("photos list");
    let photo = &listed["items"][0];
    assert_eq!((&photo["width_px"], &photo["text"]), (&json!(40), &json!("a dent in the nose")));
    fs.run("photos list").code(0).shows("SG-05").shows("a dent in the nose");

    let notes = folder.join("notes.jpg");
    std::fs::write(&notes, "not a picture").unwrap();
    let refused = fs.run(&format!("photo {} SG-05", notes.display()));
    assert_ne!(refused.code, 0);
    refused.talks("Send a picture as JPEG, PNG or WebP.");
    fs.run(&format!("photo {}/none.jpg SG-05", folder.display())).talks("cannot be read");
    std::fs::remove_dir_all(folder).unwrap();
}
