//! `preen exchange` on the demo club.

use crate::demo::Demo;

#[test]
fn metal_gears_on_every_tail() {
    let preen = Demo::shared().preen("FS");
    preen.run("exchange SV06 --with SV06M").is_as_expected("exchange");
    let answer = preen.json("exchange SV06 --with SV06M");
    assert_eq!(answer["mass_each_g"], 8.1);
    let models = answer["models"].as_array().unwrap();
    assert!(models.iter().all(|row| row["count"].as_u64() > Some(0)), "{answer}");
    preen.run("exchange SV06 --with PK3S900").code(3).talks("PK3S900 is a pack");
    preen.run("exchange SV60 --with SV06M").code(3).talks("Did you mean SV06");
}
