//! The nouns of the record, one folder each, and the one mechanism they share.
//!
//! A noun is its facts' shape (in the domain), its table (`store.rs`, by the macro in [`rows`]) and its routes
//! (`http.rs`, by the macro in [`routes`]). A new one takes its folder and a line in [`nouns`].

pub mod body;
pub mod cells;
pub mod entry;
pub mod nouns;
pub mod page;
#[macro_use]
pub mod rows;
#[macro_use]
pub mod routes;

pub mod archive;
pub mod campaign_closures;
pub mod campaign_works;
pub mod campaigns;
pub mod charges;
pub mod classes;
pub mod closures;
pub mod components;
pub mod conditions;
pub mod contests;
pub mod corrections;
pub mod defects;
pub mod deferrals;
pub mod designs;
pub mod entries;
pub mod events;
pub mod feed;
pub mod flights;
pub mod inspections;
pub mod installations;
pub mod limits;
pub mod loan_returns;
pub mod loans;
pub mod lots;
pub mod matched_sets;
pub mod measurements;
pub mod members;
pub mod models;
pub mod pairings;
pub mod parts;
pub mod passwords;
pub mod photos;
pub mod programmes;
pub mod questions;
pub mod releases;
pub mod removals;
pub mod repair_steps;
pub mod repairs;
pub mod riggings;
pub mod session;
pub mod settlements;
pub mod setup;
pub mod slugs;
pub mod tokens;
pub mod weighings;
