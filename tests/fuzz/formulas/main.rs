//! The search guided by what code a question reaches: `.ci/fuzz` builds it with the counters that it needs.
#![no_main]

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| preen_fuzz::try_formulas(bytes));
