//! How slowly a body may come in and an answer be taken. What comes too slowly is answered (408), what is taken too
//! slowly ends with its line.

use std::fmt::Display;
use std::io;
use std::time::{Duration, Instant};

use actix_multipart::MultipartError;
use actix_web::body::MessageBody;
use actix_web::dev::{Payload, ServiceRequest, ServiceResponse};
use actix_web::error::{PayloadError, UrlencodedError};
use actix_web::middleware::Next;
use actix_web::rt::time::timeout;
use actix_web::{Error, HttpMessage as _};
use futures_util::stream::{StreamExt as _, unfold};

use super::lines::{Asked, Limits, Seat};
use super::passing::passing;
use crate::problem::Problem;

/// Holds a request to its line's limits.
pub async fn with_patience(
    mut request: ServiceRequest,
    next: Next<impl MessageBody + 'static>,
) -> Result<ServiceResponse<impl MessageBody>, Error> {
    let mut asked = request.conn_data::<Seat>().map(Asked::on);
    if let Some(asked) = &asked {
        match request.take_payload() {
            Payload::None => {}
            payload => {
                let limits = asked.limits();
                request.set_payload(in_time(payload, limits));
            }
        }
    }
    let response = next.call(request).await?;
    Ok(response.map_body(|_, body| {
        passing(body, move |piece| {
            // Asked for, there is room on the line; until the piece is there it is the service that is slow.
            if let Some(asked) = &mut asked {
                asked.sends(piece.is_ready());
            }
        })
    }))
}

/// A body that has to keep its pace.
fn in_time(payload: Payload, limits: Limits) -> Payload {
    let began = Instant::now();
    let bytes = unfold(Some((payload, 0_u64)), move |coming| async move {
        let (mut payload, mut length) = coming?;
        let earned = Duration::from_secs(length / limits.pace.max(1));
        let left = limits.body.saturating_add(earned).saturating_sub(began.elapsed());
        match timeout(left, payload.next()).await {
            Ok(Some(Ok(chunk))) => {
                length = length.saturating_add(u64::try_from(chunk.len()).unwrap_or(u64::MAX));
                Some((Ok(chunk), Some((payload, length))))
            }
            Ok(Some(Err(error))) => Some((Err(error), None)),
            Ok(None) => None,
            Err(_elapsed) => Some((Err(PayloadError::Io(io::ErrorKind::TimedOut.into())), None)),
        }
    });
    // Forms ask again after the end.
    Payload::Stream { payload: Box::pin(bytes.fuse()) }
}

/// Why a body did not come in whole.
pub trait BrokeOff: Display {
    /// Whether it came too slowly.
    fn is_too_slow(&self) -> bool;

    /// The problem: too slow, or else what is made of the reason.
    fn or_else(&self, other: impl FnOnce(String) -> Problem) -> Problem {
        if self.is_too_slow() { Problem::TooSlow } else { other(self.to_string()) }
    }
}

impl BrokeOff for PayloadError {
    fn is_too_slow(&self) -> bool {
        matches!(self, Self::Io(error) if error.kind() == io::ErrorKind::TimedOut)
    }
}

impl BrokeOff for MultipartError {
    fn is_too_slow(&self) -> bool {
        matches!(self, Self::Payload(error) if error.is_too_slow())
    }
}

impl BrokeOff for Error {
    fn is_too_slow(&self) -> bool {
        matches!(self.as_error(), Some(UrlencodedError::Payload(error)) if error.is_too_slow())
    }
}
