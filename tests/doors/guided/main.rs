//! The search guided by what code an input reaches: `.ci/fuzz SECONDS doors` builds it with the counters that it needs.
#![no_main]

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| preen_doors::try_doors(bytes));
