//! The command line from outside: what it prints where, and with which exit code.
//!
//! Expected texts lie in `expected/`, one file a case: standard output, then what is said beside it, then the
//! exit code. To write them anew after a wanted change, run with `PREEN_WRITE_EXPECTED` set, and read the diff.

mod acts;
mod ballast;
mod bench_wire;
mod campaigns;
mod checklist;
mod checklist_acts;
mod checks;
mod cleared;
mod contest;
mod defects;
mod demo;
mod export;
mod failures;
mod field;
mod help;
mod import;
mod life;
mod linkage;
mod login;
mod nouns;
mod photos;
mod plan;
mod preen;
mod printing;
mod record;
mod repair;
mod responder;
mod sheets;
mod spares;
mod stories;
mod time;
mod trend;
mod type_exchange;
mod weigh;
