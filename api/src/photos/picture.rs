//! What is made of a picture that was sent: decoded within bounds, turned the right way up, made smaller, encoded anew.
//!
//! What is kept comes from pixels alone: nothing that a camera or a program wrote beside them (place, time, device, a
//! small preview, a colour profile) can get through, since none of it is looked at but the orientation.

use std::io::Cursor;

use image::codecs::jpeg::JpegEncoder;
use image::imageops::FilterType;
use image::{DynamicImage, GrayImage, ImageDecoder, ImageFormat, ImageReader, Limits, Rgb, RgbImage, Rgba};
use preen_domain::digest::Digest;
use preen_domain::facts::{LONGER_SIDE_PX, THUMBNAIL_PX};
use sha2::{Digest as _, Sha256};

/// Pixels of one side at most, as sent.
const MOST_SIDE_PX: u32 = 16_384;
/// Pixels at most, as sent: more than what telephones take.
const MOST_PIXELS: u64 = 52_000_000;
/// Bytes of all pixels at most, as decoded.
const MOST_DECODED: u64 = 160 << 20;
/// Bytes a decoder may use beside them.
const MOST_ALLOCATED: u64 = 400 << 20;
/// Quality of the encoded pictures, of 100.
const QUALITY: u8 = 85;

/// Why no picture was made.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum BadPicture {
    /// It is none, or none that can be read.
    #[error("{0}")]
    Unreadable(String),
    /// Decoded it would be too large.
    #[error("{0} × {1} pixels are too many: send at most 52 million, {MOST_SIDE_PX} on a side")]
    TooManyPixels(u32, u32),
}

/// A picture as it is kept.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Picture {
    /// SHA-256 of the file.
    pub digest: Digest,
    /// Width, px.
    pub width_px: u32,
    /// Height, px.
    pub height_px: u32,
    /// The file, JPEG.
    pub whole: Vec<u8>,
    /// The file of its thumbnail, JPEG.
    pub thumbnail: Vec<u8>,
}

fn unreadable(error: impl std::fmt::Display) -> BadPicture {
    BadPicture::Unreadable(format!(
        "The picture cannot be read ({error}): take it anew, or send it otherwise."
    ))
}

/// The decoder for what the content is, whatever it is called; only its beginning has been read.
fn decoder(sent: &[u8]) -> Result<impl ImageDecoder + '_, BadPicture> {
    let format = image::guess_format(sent).ok();
    let Some(format @ (ImageFormat::Jpeg | ImageFormat::Png | ImageFormat::WebP)) = format else {
        return Err(BadPicture::Unreadable("Send a picture as JPEG, PNG or WebP.".to_owned()));
    };
    let mut reader = ImageReader::with_format(Cursor::new(sent), format);
    let mut limits = Limits::no_limits();
    limits.max_alloc = Some(MOST_ALLOCATED);
    reader.limits(limits);
    let decoder = reader.into_decoder().map_err(unreadable)?;
    let (width, height) = decoder.dimensions();
    let is_too_large = width.max(height) > MOST_SIDE_PX
        || u64::from(width) * u64::from(height) > MOST_PIXELS
        || decoder.total_bytes() > MOST_DECODED;
    if is_too_large { Err(BadPicture::TooManyPixels(width, height)) } else { Ok(decoder) }
}

/// Bytes that the pixels of a picture will take, from its beginning alone.
///
/// # Errors
/// It is no picture, or one that is too large.
pub fn decoded_bytes(sent: &[u8]) -> Result<u64, BadPicture> {
    Ok(decoder(sent)?.total_bytes())
}

/// Makes what is kept of what was sent. The same content gives the same files.
///
/// # Errors
/// It is no picture, or one that is too large.
pub fn develop(sent: &[u8]) -> Result<Picture, BadPicture> {
    let mut decoder = decoder(sent)?;
    let orientation = decoder.orientation().map_err(unreadable)?;
    let image = DynamicImage::from_decoder(decoder).map_err(unreadable)?;
    let mut image = DynamicImage::ImageRgb8(opaque(fit(image, LONGER_SIDE_PX)));
    image.apply_orientation(orientation);
    let thumbnail = encode(&fit(image.clone(), THUMBNAIL_PX).into_rgb8())?;
    let image = image.into_rgb8();
    let whole = encode(&image)?;
    let digest = format!("{:x}", Sha256::digest(&whole)).parse::<Digest>().map_err(unreadable)?;
    Ok(Picture { digest, width_px: image.width(), height_px: image.height(), whole, thumbnail })
}

/// A picture as the camera held it, for what is read from it.
///
/// # Errors
/// It is no picture, or one that is too large.
pub fn decode(sent: &[u8]) -> Result<DynamicImage, BadPicture> {
    DynamicImage::from_decoder(decoder(sent)?).map_err(unreadable)
}

/// The same in shades of grey with a longer side of so many pixels, never enlarged.
pub fn grey(image: DynamicImage, side_px: u32) -> GrayImage {
    DynamicImage::ImageRgb8(opaque(fit(image, side_px))).into_luma8()
}

/// The thumbnail of a picture that was kept before.
///
/// # Errors
/// It is no picture, or one that is too large.
pub fn thumbnail_of(kept: &[u8]) -> Result<Vec<u8>, BadPicture> {
    let image = decode(kept)?;
    encode(&fit(image, THUMBNAIL_PX).into_rgb8())
}

/// Whether a file is the one that a digest names.
#[must_use]
pub fn is_of(file: &[u8], digest: &Digest) -> bool {
    format!("{:x}", Sha256::digest(file)) == digest.as_str()
}

/// The picture with its longer side at most so long; never enlarged.
fn fit(image: DynamicImage, side_px: u32) -> DynamicImage {
    let longer = image.width().max(image.height());
    if longer <= side_px {
        return image;
    }
    // Far from its size by counting pixels together, which needs little memory; near it with a filter.
    let near = side_px.saturating_mul(2);
    let image = if longer > near { image.thumbnail(near, near) } else { image };
    image.resize(side_px, side_px, FilterType::Triangle)
}

/// The picture on white, where it lets something through.
fn opaque(image: DynamicImage) -> RgbImage {
    if !image.has_alpha() {
        return image.into_rgb8();
    }
    let clear = image.into_rgba8();
    RgbImage::from_fn(clear.width(), clear.height(), |x, y| {
        let Rgba([red, green, blue, alpha]) = *clear.get_pixel(x, y);
        let on_white = |part: u8| {
            let sum = u16::from(part) * u16::from(alpha) + 255 * (255 - u16::from(alpha));
            u8::try_from(sum / 255).unwrap_or(u8::MAX)
        };
        Rgb([on_white(red), on_white(green), on_white(blue)])
    })
}

fn encode(image: &RgbImage) -> Result<Vec<u8>, BadPicture> {
    let mut file = Vec::new();
    JpegEncoder::new_with_quality(&mut file, QUALITY).encode_image(image).map_err(unreadable)?;
    Ok(file)
}
