//! Reading a label from a photo, where the browser cannot read codes by itself or runs no script. Nothing of it is kept.

use actix_multipart::Multipart;
use actix_web::dev::Payload;
use actix_web::web::ServiceConfig;
use actix_web::{FromRequest, HttpRequest, HttpResponse, post};
use futures_util::future::LocalBoxFuture;

use super::list::path_of;
use crate::access::actor::FormSender;
use crate::problem::Problem;
use crate::state::Shared;
use crate::web::fault::{PageFault, see_other};
use crate::web::parcel;

/// What stands on a label that was photographed.
struct Label(Option<String>);

impl FromRequest for Label {
    type Error = PageFault;
    type Future = LocalBoxFuture<'static, Result<Self, PageFault>>;

    fn from_request(request: &HttpRequest, payload: &mut Payload) -> Self::Future {
        let sender = FormSender::from_request(request, payload);
        let state = Shared::from_request(request, payload);
        let parts = Multipart::new(request.headers(), payload.take());
        Box::pin(async move {
            let state = state.await.map_err(|error| Problem::Internal(error.to_string()))?;
            Ok(Self(parcel::read_label(&state, sender.await?, parts).await?))
        })
    }
}

/// Opens what a photographed label is on.
#[post("/field/label")]
async fn open_label(label: Label) -> Result<HttpResponse, PageFault> {
    let said = label.0.ok_or_else(|| {
        let text = "No code can be read on the photo: hold the camera still and near, with light on the label; or \
                    type the tag that stands below the code.";
        Problem::field("/photo", text)
    })?;
    Ok(see_other(&path_of(&said)))
}

/// Registers the route.
pub fn routes(config: &mut ServiceConfig) {
    config.service(open_label);
}
