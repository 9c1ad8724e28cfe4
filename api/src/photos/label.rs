//! Labels on photos: the text of the QR code that is to be seen on a picture. Nothing of the picture is kept.

use super::picture::{BadPicture, decode, grey};

/// Pixels of the longer side on which a code is looked for, the likeliest first: a near code fills a large picture with
/// noise, a far one is lost in a small one.
const SIDES_PX: [u32; 3] = [1000, 2000, 500];

/// The text of a code on a picture, if there is one that can be read.
///
/// # Errors
/// It is no picture, or one that is too large.
pub fn read_label(sent: &[u8]) -> Result<Option<String>, BadPicture> {
    let image = decode(sent)?;
    for side in SIDES_PX {
        let picture = grey(image.clone(), side);
        let width = usize::try_from(picture.width()).unwrap_or_default();
        let height = usize::try_from(picture.height()).unwrap_or_default();
        let dots = picture.as_raw();
        let dot = |x: usize, y: usize| dots.get(y * width + x).copied().unwrap_or(u8::MAX);
        let mut prepared = rqrr::PreparedImage::prepare_from_greyscale(width, height, dot);
        let found = prepared.detect_grids().into_iter().find_map(|grid| Some(grid.decode().ok()?.1));
        if found.is_some() {
            return Ok(found);
        }
    }
    Ok(None)
}

#[cfg(test)]
mod tests {
    use image::{GrayImage, ImageFormat, Luma};

    use super::*;

    /// A picture of a code on a desk: so many pixels for each of its dots, so far from the edge.
    fn shot(text: &str, side_px: u32, dot_px: u32, edge_px: u32) -> Vec<u8> {
        let code = qrcode::QrCode::new(text).unwrap();
        let dots = code.to_colors();
        let count = u32::try_from(code.width()).unwrap();
        let picture = GrayImage::from_fn(side_px, side_px, |x, y| {
            let (column, row) = ((x.max(edge_px) - edge_px) / dot_px, (y.max(edge_px) - edge_px) / dot_px);
            let is_paper = x.abs_diff(edge_px + count * dot_px / 2) < (count + 8) * dot_px / 2
                && y.abs_diff(edge_px + count * dot_px / 2) < (count + 8) * dot_px / 2;
            let is_inside = x >= edge_px && y >= edge_px && column < count && row < count;
            let at = usize::try_from(row * count + column).unwrap();
            let is_dark = is_inside && dots[at] == qrcode::Color::Dark;
            Luma([if is_dark {
                25
            } else if is_paper {
                235
            } else {
                140
            }])
        });
        let mut file = std::io::Cursor::new(Vec::new());
        picture.write_to(&mut file, ImageFormat::Png).unwrap();
        file.into_inner()
    }

    #[test]
    fn a_code_is_read_near_and_far() {
        for (side, dot, edge) in [(300, 7, 60), (1600, 30, 300), (3000, 9, 1200)] {
            let found = read_label(&shot("https://club.example/components/SV08-B011", side, dot, edge));
            assert_eq!(
                found.unwrap().as_deref(),
                Some("https://club.example/components/SV08-B011"),
                "{side} {dot}"
            );
        }
    }

    #[test]
    fn what_shows_no_code_says_nothing() {
        let mut file = std::io::Cursor::new(Vec::new());
        GrayImage::from_fn(200, 200, |x, y| Luma([u8::try_from((x * 31 + y * 17) % 251).unwrap()]))
            .write_to(&mut file, ImageFormat::Png)
            .unwrap();
        assert_eq!(read_label(&file.into_inner()), Ok(None));
        assert!(read_label(b"a label").is_err());
    }
}
