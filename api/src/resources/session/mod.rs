//! Signing in with a password, who one is, and signing out. Sessions are no facts: their rows are `access`'s work.

pub mod http;
