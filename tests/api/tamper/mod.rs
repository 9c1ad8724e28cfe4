//! Whoever can write to the database can change the record, but not unseen: every column of every table it lies in.

mod bytes;
mod columns;
mod fleet;
mod rows;
