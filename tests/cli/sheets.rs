//! `preen sheet`: paper is fetched and kept as files, and none is written over unasked.

use std::fs;

use crate::demo::Demo;

#[test]
fn sheets_are_kept_as_files_and_none_is_written_over() {
    let preen = Demo::shared().preen("FS");
    let folder = std::env::temp_dir().join(format!("preen-sheets-{}", uuid::Uuid::now_v7().simple()));
    fs::create_dir_all(&folder).unwrap();
    let file = |name: &str| folder.join(name).display().to_string();
    let sheets = [
        ("record SG-01", "record.pdf"),
        ("field-card SG-01", "card.pdf"),
        ("check SG-01 N25", "check.pdf"),
        ("campaign CA-2026-1", "campaign.pdf"),
        ("repair RE-014", "repair.pdf"),
        ("readiness CT-2026-1 --pilot DR", "readiness.pdf"),
        ("scrutineering SG-05 --class F5J", "scrutineering.pdf"),
        ("labels SG-01 SG-02 --part SV08-B001 --size small", "labels.pdf"),
    ];
    for (words, name) in sheets {
        let out = file(name);
        preen.run(&format!("sheet {words} --paper letter --out {out}")).code(0).shows(&out);
        let bytes = fs::read(&out).unwrap();
        assert!(bytes.starts_with(b"%PDF-") && bytes.ends_with(b"%%EOF"), "{words}");
    }
    let record = file("record.pdf");
    let before = fs::read(&record).unwrap();
    preen
        .run(&format!("sheet record SG-02 --out {record}"))
        .code(3)
        .talks("is there already")
        .talks("--force");
    assert_eq!(fs::read(&record).unwrap(), before);
    let answer = preen.json(&format!("sheet record SG-02 --out {record} --force"));
    let after = fs::read(&record).unwrap();
    assert_eq!(
        (answer["file"].as_str(), answer["bytes"].as_u64()),
        (Some(record.as_str()), Some(after.len() as u64))
    );
    assert_ne!(after, before);

    let missing = file("missing.pdf");
    preen.run(&format!("sheet record SG-99 --out {missing}")).code(3).talks("Did you mean SG-0");
    preen.run(&format!("sheet check SG-01 N52 --out {missing}")).code(3).talks("It knows:");
    preen.run(&format!("sheet record SG-01 --paper a5 --out {missing}")).code(3);
    preen
        .run(&format!("sheet labels --address nowhere --out {missing}"))
        .code(3)
        .talks("https://fleet.example");
    assert!(!fs::exists(&missing).unwrap(), "what was refused leaves no file");
    preen
        .run(&format!("sheet record SG-01 --out {}", file("no/such/folder.pdf")))
        .code(3)
        .talks("cannot be written");
    fs::remove_dir_all(folder).unwrap();
}
