//! Pages for people, phone first, from this binary alone: one file per page.
//!
//! A page shows what an answer says and posts what a form holds; it has no rules, no verdicts and no SQL of its own.
//! * [`guest`], [`form`], [`parcel`], [`fault`]: who asks, what was sent, with pictures or without, what went wrong, all as
//!   pages.
//! * [`frame`], [`assets`]: what every page has round it; stylesheet, scripts and signs.
//! * [`field`]: what is logged at the field, with or without signal.
//! * [`draw`]: drawings from numbers.

pub mod assets;
pub mod balance_sheet;
pub mod board;
pub mod campaign_close;
pub mod campaigns;
pub mod checks;
pub mod club;
pub mod component;
pub mod contests;
pub mod draw;
pub mod fault;
pub mod field;
pub mod findings;
pub mod form;
pub mod frame;
pub mod guest;
pub mod linkage_sheet;
pub mod model;
pub mod parcel;
pub mod photos;
pub mod plan;
pub mod questions;
pub mod repair_start;
pub mod repairs;
pub mod shelf;
pub mod show;
pub mod sign_in;
pub mod swap;
pub mod words;

use actix_web::web::ServiceConfig;

/// Registers the pages.
pub fn routes(config: &mut ServiceConfig) {
    assets::routes(config);
    sign_in::routes(config);
    board::routes(config);
    model::routes(config);
    component::routes(config);
    swap::routes(config);
    checks::routes(config);
    linkage_sheet::routes(config);
    club::routes(config);
    repairs::routes(config);
    repair_start::routes(config);
    contests::routes(config);
    plan::routes(config);
    questions::routes(config);
    balance_sheet::routes(config);
    shelf::routes(config);
    findings::routes(config);
    campaigns::routes(config);
    campaign_close::routes(config);
    field::routes(config);
}
