//! Where handlers are put. A worker takes them as they are; whoever describes the interface takes their descriptions, too,
//! which are large: made by each worker and thrown away, they would leave holes of 30 MB in the memory of each.

use actix_web::dev::HttpServiceFactory;
use actix_web::web;
use utoipa_actix_web::OpenApiFactory;
use utoipa_actix_web::service_config::ServiceConfig;

/// Takes handlers.
pub enum Routes<'a, 'b> {
    /// To serve those with such paths.
    Served(&'a mut web::ServiceConfig, Paths),
    /// To describe all of them as well.
    Described(&'a mut ServiceConfig<'b>),
}

/// Kinds of paths. One after the other is tried until one fits, and to try one with names in it takes a hundred times as
/// long: those without go first.
#[derive(Clone, Copy, PartialEq, Eq)]
pub enum Paths {
    /// Words alone, such as `/flights`.
    Plain,
    /// With names of what may stand there, such as `/flights/{id}`.
    Named,
}

impl Paths {
    /// In the order in which they are tried.
    pub const ALL: [Self; 2] = [Self::Plain, Self::Named];

    fn of(path: &str) -> Self {
        if path.contains('{') { Self::Named } else { Self::Plain }
    }
}

impl Routes<'_, '_> {
    /// Takes one.
    pub fn service<F>(&mut self, handler: F) -> &mut Self
    where
        F: HttpServiceFactory + OpenApiFactory + utoipa::Path + 'static,
    {
        match self {
            Self::Served(config, paths) => {
                if Paths::of(&F::path()) == *paths {
                    config.service(handler);
                }
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
