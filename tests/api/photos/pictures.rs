//! Pictures as tests send them: encoded ones, what a camera writes beside them, and ones that claim to be huge.

use std::io::Cursor;

use image::{ImageFormat, Rgb, RgbImage, Rgba, RgbaImage};

/// One colour left, another right.
pub fn two_halves(width: u32, height: u32, left: [u8; 3], right: [u8; 3]) -> RgbImage {
    RgbImage::from_fn(width, height, |x, _| Rgb(if x < width / 2 { left } else { right }))
}

fn encoded(image: &RgbImage, format: ImageFormat) -> Vec<u8> {
    let mut file = Cursor::new(Vec::new());
    image.write_to(&mut file, format).unwrap();
    file.into_inner()
}

pub fn jpeg(image: &RgbImage) -> Vec<u8> {
    encoded(image, ImageFormat::Jpeg)
}

pub fn png(image: &RgbImage) -> Vec<u8> {
    encoded(image, ImageFormat::Png)
}

/// A picture of one colour that may shine through.
pub fn webp(width: u32, height: u32, colour: [u8; 4]) -> Vec<u8> {
    let mut file = Cursor::new(Vec::new());
    RgbaImage::from_pixel(width, height, Rgba(colour)).write_to(&mut file, ImageFormat::WebP).unwrap();
    file.into_inner()
}

/// What a camera writes (Exif 2.32): orientation, its maker, and the place.
pub fn exif(orientation: u16) -> Vec<u8> {
    let mut tiff = b"II*\0\x08\0\0\0".to_vec();
    let entry = |tag: u16, kind: u16, count: u32, value: u32| {
        let mut entry = tag.to_le_bytes().to_vec();
        entry.extend(kind.to_le_bytes());
        entry.extend(count.to_le_bytes());
        entry.extend(value.to_le_bytes());
        entry
    };
    tiff.extend(3_u16.to_le_bytes());
    tiff.extend(entry(0x010f, 2, 9, 50));
    tiff.extend(entry(0x0112, 3, 1, u32::from(orientation)));
    tiff.extend(entry(0x8825, 4, 1, 60));
    tiff.extend([0; 4]);
    assert_eq!(tiff.len(), 50);
    tiff.extend(b"QUILLCAM\0\0");
    tiff.extend(1_u16.to_le_bytes());
    tiff.extend(entry(0x0001, 2, 2, u32::from(b'N')));
    tiff.extend([0; 4]);
    tiff
}

/// A JPEG with that as its first segment.
pub fn with_exif(jpeg: &[u8], tiff: &[u8]) -> Vec<u8> {
    let mut file = jpeg[..2].to_vec();
    file.extend([0xff, 0xe1]);
    file.extend(u16::try_from(tiff.len() + 8).unwrap().to_be_bytes());
    file.extend(b"Exif\0\0");
    file.extend(tiff);
    file.extend(&jpeg[2..]);
    file
}

/// The markers of a JPEG's segments, up to its scan.
pub fn segments(jpeg: &[u8]) -> Vec<u8> {
    assert_eq!(jpeg[..2], [0xff, 0xd8]);
    let (mut at, mut markers) = (2, Vec::new());
    loop {
        assert_eq!(jpeg[at], 0xff);
        markers.push(jpeg[at + 1]);
        if jpeg[at + 1] == 0xda {
            return markers;
        }
        at += 2 + usize::from(u16::from_be_bytes([jpeg[at + 2], jpeg[at + 3]]));
    }
}

/// The checksum of a PNG's chunks (ISO/IEC 15948, annex D).
fn crc(bytes: &[u8]) -> u32 {
    !bytes.iter().fold(u32::MAX, |crc, byte| {
        (0..8).fold(crc ^ u32::from(*byte), |crc, _| (crc >> 1) ^ (0xedb8_8320 * (crc & 1)))
    })
}

/// A small PNG that claims to be huge.
pub fn huge_png(width: u32, height: u32) -> Vec<u8> {
    let mut file = png(&RgbImage::new(8, 8));
    file[16..20].copy_from_slice(&width.to_be_bytes());
    file[20..24].copy_from_slice(&height.to_be_bytes());
    let sum = crc(&file[12..29]);
    file[29..33].copy_from_slice(&sum.to_be_bytes());
    file
}

/// A small JPEG that claims to be huge.
pub fn huge_jpeg(width: u16, height: u16) -> Vec<u8> {
    let mut file = jpeg(&RgbImage::new(8, 8));
    let frame = file.windows(2).position(|pair| pair == [0xff, 0xc0]).unwrap();
    file[frame + 5..frame + 7].copy_from_slice(&height.to_be_bytes());
    file[frame + 7..frame + 9].copy_from_slice(&width.to_be_bytes());
    file
}
