//! Pages for people, phone first, from this binary alone: one file per page.
//!
//! A page shows what an answer says and posts what a form holds; it has no rules, no verdicts and no SQL of its own.
//! * [`guest`], [`form`], [`fault`]: who asks, what was sent, what went wrong, all as pages.
//! * [`frame`], [`assets`]: what every page has round it; stylesheet, scripts and signs.
//! * [`draw`]: drawings from numbers.

pub mod assets;
pub mod board;
pub mod component;
pub mod draw;
pub mod fault;
pub mod form;
pub mod frame;
pub mod guest;
pub mod model;
pub mod show;
pub mod sign_in;
pub mod words;

use actix_web::web::ServiceConfig;

/// Registers the pages.
pub fn routes(config: &mut ServiceConfig) {
    assets::routes(config);
    sign_in::routes(config);
    board::routes(config);
    model::routes(config);
    component::routes(config);
}
