//! A club as one file: the archive in which it is taken away, and from which it can be had again with the same answers.
//!
//! * [`head`]: what lies in it, by which names, and what it says of itself.
//! * [`write`]: how it is written. [`cells`]: tables for people, in which no cell is a formula.
//! * [`read`]: how it is read, whoever made it: within [`limits`], and never by a name that the format does not have.
//!
//! Where the facts come from and where they go is no business of these files; see `resources/archive`.

pub mod cells;
pub mod head;
pub mod limits;
pub mod read;
pub mod write;
