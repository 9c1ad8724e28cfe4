//! The field card: what is logged beside the runway, with gloves on, in the sun and without signal.
//!
//! The forms work as plain forms. With a script they are not posted: what they say is kept on the device and sent
//! later (`static/field.js` and what it loads), and the pages open without signal (`static/sw.js`).
//! * [`list`], [`card`], [`part`]: the pages; [`label`] opens one by the photo of a label.
//! * [`preset`], [`quantities`]: what the forms offer without typing.
//! * [`sent`], [`record`]: a form as a fact, and into the record as REST would take it.
//! * [`offline`]: what a browser needs to keep the pages.

pub mod card;
pub mod label;
pub mod list;
pub mod offline;
pub mod part;
pub mod preset;
pub mod quantities;
pub mod record;
pub mod sent;

use actix_web::web::ServiceConfig;

/// Registers the routes.
pub fn routes(config: &mut ServiceConfig) {
    offline::routes(config);
    list::routes(config);
    label::routes(config);
    part::routes(config);
    card::routes(config);
}
