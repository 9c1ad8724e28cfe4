//! The nouns of the record, one folder each, and the one mechanism they share.
//!
//! A noun is its facts' shape (in the domain), its table (`store.rs`, by [`rows`]) and its routes
//! (`http.rs`, by [`routes`]). Adding one takes a line in [`nouns`] besides.

pub mod body;
pub mod entry;
pub mod nouns;
pub mod page;
pub mod routes;
#[macro_use]
pub mod rows;
