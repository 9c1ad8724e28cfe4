//! The house keeps itself: rooms and doors, words, sizes and files are held by reading the source.
//!
//! Each checker is a plain function from text to complaints, and each has a test that it can complain.

mod doors;
mod files;
mod habits;
mod keys;
mod licences;
mod packaging;
mod pages;
mod paths;
mod shapes;
mod sizes;
mod tree;
mod words;
