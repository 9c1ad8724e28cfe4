//! Where handlers are put. A worker takes them as they are; whoever describes the interface takes their descriptions, too,
//! which are large: made by each worker and thrown away, they would leave holes of 30 MB in the memory of each.

use actix_web::dev::HttpServiceFactory;
use actix_web::web;
use utoipa_actix_web::OpenApiFactory;
use utoipa_actix_web::service_config::ServiceConfig;

/// Takes handlers.
pub enum Routes<'a, 'b> {
    /// To serve them.
    Served(&'a mut web::ServiceConfig),
    /// To describe them as well.
    Described(&'a mut ServiceConfig<'b>),
}

impl Routes<'_, '_> {
    /// Takes one.
    pub fn service<F>(&mut self, handler: F) -> &mut Self
    where
        F: HttpServiceFactory + OpenApiFactory + 'static,
    {
        match self {
            Self::Served(config) => {
                config.service(handler);
            }
            Self::Described(config) => {
                config.service(handler);
            }
        }
        self
    }

    /// Takes those that a function has.
    pub fn configure(&mut self, routes: impl FnOnce(&mut Self)) -> &mut Self {
        routes(self);
        self
    }
}
