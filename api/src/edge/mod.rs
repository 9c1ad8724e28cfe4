//! What stands between the network and the handlers, whoever sends what.
//!
//! * [`lines`]: connections, how long each may do nothing, and how many there may be.
//! * [`patience`]: how slowly a body may come in and an answer be taken.
//! * [`headers`]: what every answer tells browsers.
//! * [`passing`]: the body of an answer, heard of piece by piece.
//!
//! Who asks, and what they may do, is not looked at here.

pub mod headers;
pub mod lines;
pub mod passing;
pub mod patience;
