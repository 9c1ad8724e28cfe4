//! The service over HTTP, on both databases: how things get in and out, and what is refused.

mod access;
mod bad_input;
mod crowd;
mod description;
mod erasure;
mod feed;
mod lists;
mod recording;
mod shelf;
mod storage;
mod trail;
