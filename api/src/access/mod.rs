//! Who asks, and by what right. The handler's signature proves it: whoever takes an `Actor` has shown a valid
//! token or the cookie of a session.
//!
//! What the person behind it may do is no matter of this room but of the domain's table of acts.

pub mod actor;
pub mod guards;
pub mod passwords;
pub mod sessions;
pub mod sight;
pub mod throttle;
pub mod tokens;
