//! The feed: facts of all nouns, as they come out of an outbox and as they go into a copy.

pub mod http;
mod inbox;
mod stream;
mod together;
