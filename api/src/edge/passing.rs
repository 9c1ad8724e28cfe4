//! The body of an answer on its way out: whoever wants to know hears of each piece when it is asked for.

use std::pin::Pin;
use std::task::{Context, Poll};

use actix_web::body::{BodySize, BoxBody, MessageBody};
use actix_web::web::Bytes;

/// What there is when the next piece is asked for: nothing yet, a piece, a fault, or the end.
pub type Piece = Poll<Option<Result<Bytes, Box<dyn std::error::Error>>>>;

/// A body and who hears of its pieces; what that holds goes with the body, sent to its end or not.
pub struct Passing<H> {
    body: BoxBody,
    heard: H,
}

/// Lets somebody hear of the pieces of a body.
pub fn passing<H: FnMut(&Piece) + Unpin>(body: impl MessageBody + 'static, heard: H) -> Passing<H> {
    Passing { body: body.boxed(), heard }
}

impl<H: FnMut(&Piece) + Unpin> MessageBody for Passing<H> {
    type Error = Box<dyn std::error::Error>;

    fn size(&self) -> BodySize {
        self.body.size()
    }

    fn poll_next(mut self: Pin<&mut Self>, context: &mut Context<'_>) -> Piece {
        let piece = Pin::new(&mut self.body).poll_next(context);
        (self.heard)(&piece);
        piece
    }
}
