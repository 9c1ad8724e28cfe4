//! Checks item by item on the command line: what failed, on which part, and what clears it.

use crate::demo::Demo;

#[test]
fn a_failed_item_grounds_until_it_is_passed_again() {
    let demo = Demo::own();
    let dr = demo.preen("DR");
    dr.run("may-fly SG-05").code(0);
    dr.run("inspect SG-05 DF --result restrict --item DF-05=fail --item DF-04=pass --at 08:30")
        .code(0)
        .talks("`preen defect SG-05 ground");
    dr.run("may-fly SG-05")
        .code(2)
        .shows("■ grounded")
        .shows("DF-05 (Motor lock works; motor cannot start with lock on) was failed at 2026-05-21T07:30:00Z, and nobody")
        .shows("pass DF-05 again, or report the defect");
    dr.run("findings").shows("DF-05 (Motor lock works");
    dr.run("inspect SG-05 DF --result restrict --item DF-05=pass --at 08:40").code(0);
    dr.run("may-fly SG-05").code(0).shows("● fit");

    // On one part, with its reading: the class is that of the limit, and a defect on it says more.
    dr.run("inspect SG-05 N25 --result restrict --item N25-02@SV08-B014=fail:1.05 --at 08:45").code(0);
    dr.run("may-fly SG-05").code(1).shows("was failed on SV08-B014 at 2026-05-21T07:45:00Z, 1.05");
    dr.run("inspect SG-05 N25 --result restrict --item N25-02@=fail --at 08:45")
        .code(3)
        .talks("names no part behind the @");
    dr.run("defect SG-05 watch 'play of the right aileron' --on SV08-B014 --at 08:50").code(0);
    let said = dr.run("may-fly SG-05").code(0);
    assert!(!said.stdout.contains("was failed on"), "{}", said.stdout);
}
