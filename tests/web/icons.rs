//! Icons for home screens: in the sizes that are asked for, small, and the same drawing as the sign of the pages.

use serde_json::Value;

use crate::club::{DemoClub, Profile};

/// Draws two files to a square and says by how much their dots differ, of 255: on the whole, and how many stand apart.
const COMPARED: &str = "
    const done = arguments[arguments.length - 1];
    const drawn = async (path, side, share) => {
        const image = new Image();
        image.src = path;
        await image.decode();
        const canvas = document.createElement('canvas');
        canvas.width = canvas.height = side;
        const context = canvas.getContext('2d');
        context.fillStyle = '#10424b';
        context.fillRect(0, 0, side, side);
        const edge = side * (1 - share) / 2;
        context.drawImage(image, edge, edge, side * share, side * share);
        return context.getImageData(0, 0, side, side).data;
    };
    (async () => {
        const manifest = await (await fetch('/manifest.webmanifest')).json();
        const drawing = manifest.icons.find((one) => one.type === 'image/svg+xml').src;
        const rows = [];
        for (const one of manifest.icons.filter((one) => one.type === 'image/png')) {
            const side = Number(one.sizes.split('x')[0]);
            const [made, meant] = [await drawn(one.src, side, 1), await drawn(drawing, side, one.purpose === 'maskable' ? 0.8 : 1)];
            let [apart, sum] = [0, 0];
            for (let at = 0; at < made.length; at += 1) {
                const by = Math.abs(made[at] - meant[at]);
                sum += by;
                if (by > 100) apart += 1;
            }
            const file = await (await fetch(one.src)).arrayBuffer();
            const image = new Image();
            image.src = one.src;
            await image.decode();
            rows.push({ sizes: one.sizes, purpose: one.purpose, bytes: file.byteLength, own: `${image.width}x${image.height}`,
                mean: sum / made.length, apart: apart / made.length });
        }
        const touch = document.querySelector('link[rel=apple-touch-icon]').getAttribute('href');
        done({ rows, touch: (await fetch(touch)).headers.get('content-type') });
    })().catch((error) => done(String(error)));";

pub fn of_the_drawing(club: &DemoClub) {
    let profile = Profile::new();
    let browser = profile.browser();
    club.sign_in(&browser, "AV", "/field");
    let told = browser.run_async(COMPARED);
    assert_eq!(told["touch"], "image/png", "{told}");
    let rows = told["rows"].as_array().unwrap();
    let sizes: Vec<(&Value, &Value)> = rows.iter().map(|row| (&row["sizes"], &row["purpose"])).collect();
    let wanted = [("192x192", "any"), ("512x512", "any"), ("512x512", "maskable")];
    assert_eq!(sizes.len(), wanted.len());
    for (row, (size, purpose)) in rows.iter().zip(wanted) {
        assert_eq!(
            (&row["sizes"], &row["own"], &row["purpose"]),
            (&size.into(), &size.into(), &purpose.into())
        );
        assert!(row["bytes"].as_u64().unwrap() < 6000, "{row}");
        assert!(row["mean"].as_f64().unwrap() < 1.0 && row["apart"].as_f64().unwrap() < 0.002, "{row}");
    }
}
