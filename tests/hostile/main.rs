//! Requests that no honest client sends: slow, endless, malformed, oversized, packed to burst. Against a real service in a
//! process of its own, over bare sockets where a library would not send such things.
//!
//! What holds for each: one clear answer in the interface's own shape, or a closed line where HTTP has no answer; never
//! a 5xx; the process keeps within its memory; the next honest request is answered at once; and the record still holds.
//! This program is its own service and its own `preen`. A word lets only tests run whose names hold it.

mod bodies;
mod books;
mod files;
mod heads;
mod pack;
mod questions;
mod shielded;
mod slow;
mod target;
mod wire;

use std::process::ExitCode;

use preen_tests::command_line::be_preen;
use preen_tests::runner::{Test, run};

fn main() -> ExitCode {
    match std::env::args().nth(1).unwrap_or_default().as_str() {
        target::WORD => return target::be_service(),
        books::WORD => return be_preen(),
        "import" => return preen_api::commands::run(),
        _ => {}
    }
    let tests: [Test<'_>; 11] = [
        ("slow::heads".to_owned(), Box::new(slow::heads)),
        ("slow::bodies".to_owned(), Box::new(slow::bodies)),
        ("slow::readers".to_owned(), Box::new(slow::readers)),
        ("slow::crowd".to_owned(), Box::new(slow::crowd)),
        ("heads::odd".to_owned(), Box::new(heads::odd)),
        ("bodies::odd".to_owned(), Box::new(bodies::odd)),
        ("questions::odd".to_owned(), Box::new(questions::odd)),
        ("files::odd".to_owned(), Box::new(files::odd)),
        ("books::odd".to_owned(), Box::new(books::odd)),
        ("shielded::handshakes".to_owned(), Box::new(shielded::handshakes)),
        ("shielded::frames".to_owned(), Box::new(shielded::frames)),
    ];
    run(&tests, "")
}
