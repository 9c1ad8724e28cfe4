//! The service over HTTP, on both databases: how things get in and out, and what is refused.

mod access;
mod access_table;
mod bad_input;
mod bench_ballast;
mod bench_linkage;
mod bench_weighing;
mod bench_wire;
mod clock;
mod crowd;
mod description;
mod encryption;
mod erasure;
mod feed;
mod findings;
mod life;
mod lists;
mod questions;
mod queue;
mod race;
mod recording;
mod shelf;
mod sign_in;
mod storage;
mod trail;
mod wear;
