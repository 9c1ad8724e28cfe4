//! `preen export`: a file that is there whole or not at all, and never in the place of another.

use preen_tests::world::scratch;

use crate::demo::Demo;

#[test]
fn the_record_is_taken_away_as_a_file() {
    let demo = Demo::own();
    let keeper = demo.preen("KD");
    let folder = scratch("preen-export");
    let file = folder.join("club.zip");
    let shown = file.display();
    keeper.run(&format!("export --to {shown}")).code(0).shows("club.zip, ");
    let bytes = std::fs::read(&file).unwrap();
    assert!(bytes.starts_with(b"PK") && bytes.len() > 100_000, "{}", bytes.len());
    let again = keeper.run(&format!("export --to {shown}"));
    assert_eq!(again.code, 3);
    again.talks("is there already.");
    keeper.run(&format!("export --to {shown} --force")).code(0);
    let model = folder.join("SG-03.zip");
    keeper.run(&format!("export --model SG-03 --to {}", model.display())).code(0).shows("SG-03.zip, ");
    let member = folder.join("FS.zip");
    keeper.run(&format!("export --member FS --to {}", member.display())).code(0);
    let fs = demo.preen("FS");
    let refused = fs.run(&format!("export --to {}", folder.join("no.zip").display()));
    assert_eq!(refused.code, 4);
    let mut left: Vec<String> = std::fs::read_dir(&folder)
        .unwrap()
        .map(|entry| entry.unwrap().file_name().to_string_lossy().into_owned())
        .collect();
    left.sort();
    assert_eq!(left, ["FS.zip", "SG-03.zip", "club.zip"], "nothing is left of what was refused");
    std::fs::remove_dir_all(folder).unwrap();
}
