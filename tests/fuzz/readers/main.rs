//! The search for what breaks a reader of the domain, guided like that of the formulas.
#![no_main]

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| preen_fuzz::try_readers(bytes));
