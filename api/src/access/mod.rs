//! Who asks, and by what right. The handler's signature proves it: whoever takes an `Actor` has a valid token.
//!
//! What the person behind the token may do is no matter of this room but of the domain's table of acts.

pub mod actor;
pub mod tokens;
