//! Pictures of photos: what is made of a picture that was sent, and where it is kept.
//!
//! A picture is no fact and knows no noun. It is kept under its club and the digest of its content, durably before any
//! photo can name it; `resources/photos` holds the photos themselves and the list of what is kept.

pub mod darkroom;
pub mod label;
pub mod picture;
pub mod place;
pub mod store;

use darkroom::Darkroom;
use store::Store;

/// What handlers need for pictures.
pub struct Photos {
    /// Where pictures are kept.
    pub store: Store,
    /// Where they are made.
    pub darkroom: Darkroom,
}
