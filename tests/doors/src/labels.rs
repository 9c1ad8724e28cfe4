//! Pictures of labels: whole ones are read, spoilt ones are read, refused or show nothing.

use std::io::Cursor;

use arbitrary::Unstructured;
use image::{GrayImage, ImageFormat, Luma};
use preen_api::photos::label::read_label;
use qrcode::{Color, QrCode};

use crate::scratched;

/// A small picture of the code of a text.
fn shot(text: &[u8], format: ImageFormat) -> Option<Vec<u8>> {
    let code = QrCode::new(text).ok()?;
    let (colors, width) = (code.to_colors(), code.width());
    let side = u32::try_from((width + 8) * 3).ok()?;
    let picture = GrayImage::from_fn(side, side, |x, y| {
        let dot =
            |at: u32| usize::try_from(at / 3).ok().and_then(|at| at.checked_sub(4)).filter(|at| *at < width);
        let is_dark =
            dot(x).zip(dot(y)).is_some_and(|(column, row)| colors[row * width + column] == Color::Dark);
        Luma([if is_dark { 20 } else { 240 }])
    });
    let mut file = Cursor::new(Vec::new());
    picture.write_to(&mut file, format).ok()?;
    Some(file.into_inner())
}

/// A picture of a code, whole or spoilt.
///
/// # Panics
/// Where a whole one is read otherwise.
pub fn try_label(bytes: &mut Unstructured<'_>) {
    let odd = preen_fuzz::texts::odd_text(bytes);
    let text = format!("https://club.example/components/{}", odd.chars().take(20).collect::<String>());
    let format =
        *bytes.choose(&[ImageFormat::Png, ImageFormat::Jpeg, ImageFormat::WebP]).unwrap_or(&ImageFormat::Png);
    let Some(mut picture) = shot(text.as_bytes(), format) else { return };
    if bytes.ratio(1, 3).unwrap_or(false) {
        let read = read_label(&picture).expect("a whole picture");
        assert!(read.as_deref().is_none_or(|read| read == text), "{read:?} for {text:?}");
        return;
    }
    scratched(&mut picture, bytes);
    // Any answer will do that is one.
    let _ = read_label(&picture);
}
