//! The ten risks to interfaces (OWASP API Security Top 10, 2023), tried for real. The table in DEVELOPERS.md says for each
//! what stands against it and which test holds that; what is tried here is what no other test of this folder tries.
//!
//! Whose things one gets at (API1) and what one may do (API5) is `access_table.rs`, guessing is `sign_in.rs`, slow and
//! oversized requests are `tests/hostile`.

mod access;
mod flows;
mod inventory;
mod outward;
mod property;
mod shape;
