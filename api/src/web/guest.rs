//! Who asks for a page. Whoever is not signed in is led to where that is done, and back.

use std::sync::Arc;

use actix_web::dev::Payload;
use actix_web::{FromRequest, HttpRequest, HttpResponse};
use askama::Template;
use futures_util::future::LocalBoxFuture;

use super::fault::PageFault;
use super::form::Fields;
use super::frame::{answer, answer_apart};
use crate::access::actor::{Actor, Reader};
use crate::answers::ask::Ask;
use crate::desk::Desk;
use crate::problem::Problem;
use crate::resources::page::Pairs;
use crate::state::Shared;

/// A member who asks for a page.
pub struct Guest(pub Actor);

impl FromRequest for Guest {
    type Error = PageFault;
    type Future = LocalBoxFuture<'static, Result<Self, PageFault>>;

    fn from_request(request: &HttpRequest, payload: &mut Payload) -> Self::Future {
        let reader = Reader::from_request(request, payload);
        let wanted = wanted(request);
        Box::pin(async move {
            reader
                .await
                .map(|reader| Self(reader.0))
                .map_err(|problem| PageFault::on_the_way(problem, wanted))
        })
    }
}

/// A visit to a page: who asks, for what, with which parameters.
pub struct Visit {
    /// What every request can reach.
    pub state: Shared,
    /// Who asks.
    pub actor: Actor,
    request: HttpRequest,
    query: Pairs,
}

impl Visit {
    /// The question that the page asks; `known` are parameters of its own.
    pub async fn ask(&self, known: &[&str]) -> Result<Ask, PageFault> {
        let query = Pairs(self.query.0.clone());
        Ok(Ask::of_page(&self.state, &self.actor, &self.request, query, known).await?)
    }

    /// The question of a page that asks nothing by its parameters, but has a form that does.
    pub async fn ask_plainly(&self) -> Result<Ask, PageFault> {
        Ok(Ask::of_page(&self.state, &self.actor, &self.request, Pairs(Vec::new()), &[]).await?)
    }

    /// The parameters as a form would send them.
    pub fn fields(&self) -> Fields {
        Fields(self.query.0.clone())
    }

    /// Sends a page that answers a question, or says that the browser has it already.
    pub fn answer<T: Template>(
        &self,
        ask: &Ask,
        page: impl FnOnce() -> Result<T, PageFault>,
    ) -> Result<HttpResponse, PageFault> {
        answer(ask, &self.actor, &self.request, page)
    }

    /// The same where what the page shows is worked out at a desk, away from the threads that answer.
    pub async fn answer_apart<T: Send + 'static, P: Template>(
        &self,
        ask: &Arc<Ask>,
        work: (&'static Desk, impl FnOnce(&Ask) -> T + Send + 'static),
        page: impl FnOnce(T) -> Result<P, PageFault>,
    ) -> Result<HttpResponse, PageFault> {
        answer_apart(ask, &self.actor, &self.request, work, page).await
    }
}

impl FromRequest for Visit {
    type Error = PageFault;
    type Future = LocalBoxFuture<'static, Result<Self, PageFault>>;

    fn from_request(request: &HttpRequest, payload: &mut Payload) -> Self::Future {
        let (guest, query) = (Guest::from_request(request, payload), Pairs::from_request(request, payload));
        let state = Shared::from_request(request, payload);
        let request = request.clone();
        Box::pin(async move {
            let actor = guest.await?.0;
            let state = state.await.map_err(|error| Problem::Internal(error.to_string()))?;
            Ok(Self { state, actor, request, query: query.await? })
        })
    }
}

/// The page to come back to after signing in: the one asked for, or the board.
fn wanted(request: &HttpRequest) -> String {
    let target = request.uri().path_and_query().map_or("/", |target| target.as_str());
    if request.method().is_safe() { target.to_owned() } else { "/".to_owned() }
}

/// A path of this service: it begins with one slash, so that no link leads to another host.
pub fn own_path(text: &str) -> Option<&str> {
    let is_own = text.starts_with('/')
        && !text.starts_with("//")
        && !text.contains('\\')
        && !text.chars().any(char::is_control);
    is_own.then_some(text)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nobody_is_led_elsewhere() {
        assert_eq!(own_path("/models/SG-01?on=2026-05-23"), Some("/models/SG-01?on=2026-05-23"));
        for foreign in ["//evil.example", "https://evil.example", "/\\evil.example", "", "models", "/a\nb"] {
            assert_eq!(own_path(foreign), None, "{foreign:?}");
        }
    }
}
